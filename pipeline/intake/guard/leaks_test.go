package guard_test

import (
	"fmt"
	"strings"
	"testing"

	"evenlimb/pipeline/intake/guard"
)

// sheet is a small file: headings, then rows, cells parted by bars.
type sheet []string

func (s sheet) look(rules guard.Rules) (*guard.Suspicion, []guard.Suspicion) {
	g := guard.New(rules)
	if found := g.Headings(1, strings.Split(s[0], "|")); found != nil {
		return found, nil
	}
	for i, row := range s[1:] {
		g.Row(i+2, strings.Split(row, "|"))
	}
	return g.Verdict(), g.Passed()
}

// column makes a file of one column beside two that are in order.
func column(heading string, values ...string) sheet {
	s := sheet{"episode_id|start_date|" + heading}
	for i, v := range values {
		s = append(s, fmt.Sprintf("e%04d|2025-03-14|%s", i, v))
	}
	return s
}

// headings of each kind, in several languages. One of them in a file is enough.
var leakingHeadings = map[guard.Kind][]string{
	guard.Name: {
		"name", "Name", "patient_name", "PatientName", "First Name", "surname", "Nachname", "Vorname", "Name des Patienten", "Prénom", "nom", "Nom de famille", "Nombre y apellidos", "Primer apellido", "Voornaam",
		"ACHTERNAAM", "Initials", "therapist name", "Next of kin", "Angehörige",
	},
	guard.Birth:     {"dob", "D.O.B", "DateOfBirth", "birth_date", "Geburtsdatum", "Geb.-Datum", "Jahrgang", "date de naissance", "Année de naissance", "Fecha de nacimiento", "geboortedatum"},
	guard.Email:     {"email", "E-Mail", "eMail", "Correo electrónico", "courriel", "e-mailadres"},
	guard.Phone:     {"phone", "Telephone No", "mobile", "Telefonnummer", "Handy", "Tél", "Téléphone portable", "Teléfono", "telefoonnummer", "Fax"},
	guard.Address:   {"address", "Home Address", "street", "Anschrift", "Straße", "Hausnummer", "Wohnort", "Adresse", "Dirección", "Ciudad", "woonplaats", "Town"},
	guard.Postcode:  {"postcode", "ZIP", "zip code", "PLZ", "Postleitzahl", "Code postal", "Código postal"},
	guard.Record:    {"MRN", "Medical Record Number", "hospital_number", "Patientennummer", "Pat.-Nr.", "Fallnummer", "Numéro de dossier", "Historia clínica", "Dossiernummer"},
	guard.Insurance: {"insurance_number", "Policy No", "Versichertennummer", "Krankenkasse", "N° de sécurité sociale", "Mutuelle", "Tarjeta sanitaria", "polisnummer", "KVNR"},
	guard.National:  {"NHS number", "SSN", "passport_no", "Ausweisnummer", "Carte d'identité", "DNI", "BSN", "Burgerservicenummer", "Steuer-ID"},
	guard.Licence:   {"driving licence", "Driver's License", "Führerscheinnummer", "Kennzeichen", "Permis de conduire", "Matrícula", "kenteken", "number plate"},
	guard.Account:   {"IBAN", "Kontonummer", "account number"},
	guard.Web:       {"username", "Benutzername", "ip address", "photo"},
}

func TestHeadingsThatLeak(t *testing.T) {
	for kind, headings := range leakingHeadings {
		for _, h := range headings {
			found, _ := column(h, "").look(guard.Rules{})
			if found == nil || found.Kind != kind || found.Column != 2 || found.Line != 1 {
				t.Errorf("heading %q: found %+v, want %s in column 3, line 1", h, found, kind)
			}
		}
	}
}

func TestValuesThatLeak(t *testing.T) {
	for _, c := range []struct {
		about string
		file  sheet
		kind  guard.Kind
		line  int
	}{
		{"name in a text column", column("method", "tape", "Anna Berg"), guard.Name, 3},
		{"name with a comma", column("cuff_code", "Schmidt, Julia"), guard.Name, 2},
		{"name in capitals", column("x1", "GARCIA LOPEZ MARIA"), guard.Name, 2},
		{"name as a key", column("person_id", "p0001", "john.smith"), guard.Name, 3},
		{"name as a key with a year", column("person_id", "p0001", "thomas_mueller_1971"), guard.Name, 3},
		{"name in a column of numbers", column("minutes", "30", "Pieter de Vries"), guard.Name, 3},
		{"name with a title", column("clinician_id", "c01", "Dr. Achterkamp"), guard.Name, 3},
		{"name with a German title", column("method", "nach Frau Sandmann"), guard.Name, 2},
		{"name with a French title", column("remark", "vu par Mme Dupuis-Lorrain"), guard.Name, 2},
		{"accents", column("x1", "François Lefèvre"), guard.Name, 2},
		{"only family names", column("Kunde", "Schmidt", "Fischer", "Weber", "Hoffmann"), guard.Name, 2},
		{"only given names", column("x1", "Julia", "Sophie", "Lukas", "Emma"), guard.Name, 2},
		{"family names as keys", column("person_id", "schmidt1", "fischer2", "weber1", "hoffmann3"), guard.Name, 2},
		{"names that no list knows", column("x1", "Oluwaseun Adeyemi", "Thandeka Ngwenya", "Anneliz Quambusch", "Priyanka Rajagopal", "Siobhra Ualtar"), guard.Name, 2},
		{"birth dates under a heading of no meaning", column("x1", "1961-05-04", "1975-11-30", "1988-01-02"), guard.Birth, 2},
		{"birth dates as they are written in German", column("Datum 2", "04.05.1961", "30.11.75"), guard.Birth, 2},
		{"birth dates in a column of ours", column("onset_date", "1961-05-04", "2025-01-30", "1949-01-02", "1990-08-08"), guard.Birth, 2},
		{"birth dates as keys", column("person_id", "1961-05-04", "1975-11-30", "1988-01-02"), guard.Birth, 2},
		{"birth dates inside keys", column("person_id", "AB19610504", "CD19751130", "EF19880102", "GH19490630", "IJ19920228"), guard.Birth, 2},
		{"birth date in words", column("method", "tape, born 4.5.1961"), guard.Birth, 2},
		{"birth date in German words", column("method", "Maßband, geb. 04.05.1961"), guard.Birth, 2},
		{"age over 89", column("age", "45", "93"), guard.Age, 3},
		{"age band over 90", column("age_band", "25-34", "95-99"), guard.Age, 3},
		{"age in Spanish", column("Edad (años)", "91"), guard.Age, 2},
		{"e-mail", column("method", "ask a.berg@example.org"), guard.Email, 2},
		{"e-mail as a key", column("person_id", "p1", "anna@example.org"), guard.Email, 3},
		{"phone with a country", column("cuff_code", "+49 171 2345678"), guard.Phone, 2},
		{"phone in a text", column("method", "call 07700 900123 first"), guard.Phone, 2},
		{"phone in French groups", column("x1", "06 12 34 56 78"), guard.Phone, 2},
		{"phone in American groups", column("x1", "(555) 010-4477"), guard.Phone, 2},
		{"phone in Spanish groups", column("x1", "612 345 678"), guard.Phone, 2},
		{"phone of digits alone", column("x1", "01712345678"), guard.Phone, 2},
		{"phone in a column of numbers", column("reps", "01712345678"), guard.Phone, 2},
		{"phones as keys", column("person_id", "07700900123", "07700900456", "07700900789"), guard.Phone, 2},
		{"address", column("method", "12 Old Mill Lane"), guard.Address, 2},
		{"address in German", column("x1", "Lindenstraße 14"), guard.Address, 2},
		{"address in French", column("x1", "3 bis, rue des Lilas"), guard.Address, 2},
		{"address in Spanish", column("x1", "Calle de la Luna, 7"), guard.Address, 2},
		{"address in Dutch", column("x1", "Kerkstraat 14"), guard.Address, 2},
		{"postcodes of the United Kingdom", column("x1", "ZZ99 3WZ", "ZZ99 3VZ", "ZZ9 4QA"), guard.Postcode, 2},
		{"postcodes of the Netherlands", column("area", "1234 AB", "5678 CD"), guard.Postcode, 2},
		{"number of the United Kingdom with blanks", column("person_id", "943 476 5919"), guard.National, 2},
		{"numbers of the United Kingdom as keys", column("person_id", "9434765919", "4010232137", "9999999999", "1234567881", "9876543210"), guard.National, 2},
		{"numbers of the Netherlands as keys", column("person_id", "111222333", "123456782", "100000009", "999999990", "200000007"), guard.National, 2},
		{"numbers of Spain as keys", column("person_id", "12345678Z", "87654321X", "00000000T"), guard.National, 2},
		{"number of the United States", column("person_id", "078-05-1120"), guard.National, 2},
		{"number of Switzerland", column("x1", "756.9217.0769.85"), guard.National, 2},
		{"insurance number of France", column("x1", "1 84 12 76 451 089 46"), guard.Insurance, 2},
		{"insurance numbers of Germany as keys", column("person_id", "A123456780", "B987654320", "M310119802"), guard.Insurance, 2},
		{"bank account", column("x1", "DE89 3704 0044 0532 0130 00"), guard.Account, 2},
		{"driving licence", column("x1", "MORGA657054SM9IJ"), guard.Licence, 2},
		{"web address", column("method", "see www.example.org/anna"), guard.Web, 2},
		{"free text", column("method", "person told of a fall at home on the stairs and of a quarrel with the neighbour"), guard.FreeText, 2},
		{"free text in a column of codes", column("stop_reason", "pain", "the knee gave way twice and the daughter had to be called to fetch her home"), guard.FreeText, 3},
		{"a row of a person where headings belong", sheet{"Berg, Anna|1961-05-04|left"}, guard.Name, 1},
		{"e-mail where a heading belongs", sheet{"p1|anna@example.org|left"}, guard.Email, 1},
		{"a cell too many", sheet{"episode_id|start_date", "e1|2025-01-01|+49 171 2345678"}, guard.Phone, 2},
	} {
		t.Run(c.about, func(t *testing.T) {
			found, _ := c.file.look(guard.Rules{Sender: "north"})
			if found == nil || found.Kind != c.kind || found.Line != c.line {
				t.Fatalf("found %+v, want %s in line %d", found, c.kind, c.line)
			}
		})
	}
}

// TestNoValueInWords holds every message against every value: none may be told.
func TestNoValueInWords(t *testing.T) {
	told := "Anna Berg, Lindenstraße 14, anna@example.org"
	for _, file := range []sheet{column("method", told), {told + "|left"}, {"episode_id", "e1|" + told}} {
		found, _ := file.look(guard.Rules{Sender: "north"})
		if found == nil {
			t.Fatalf("%v passed", file)
		}
		for _, part := range strings.FieldsFunc(told, func(r rune) bool { return r == ' ' || r == ',' || r == '@' }) {
			if strings.Contains(found.Words("north"), part) {
				t.Errorf("%q tells %q", found.Words("north"), part)
			}
		}
	}
}
