package guard

import (
	"slices"
	"strings"
	"unicode"
)

// phrase is a heading, or part of one, that names an identifier. A loose one
// does so only where no word beside it names a thing: "name" but not "exercise
// name".
type phrase struct {
	words []string
	kind  Kind
	loose bool
}

// phrases are the headings refused, in English, German, French, Spanish and
// Dutch, folded to small letters without accents. A question mark makes a
// phrase a loose one.
var phrases = parsePhrases(map[Kind]string{
	Name: `name?, names?, full name, fullname, first name, firstname, last name, lastname, surname, forename, given name, givenname, family name, familyname, middle name,
		maiden name, birth name, preferred name, nickname, initials, patient name, patientname, client name, person name, next of kin, emergency contact, spouse, mother, father, carer name,
		contact name, therapist name, clinician name, physician name, doctor name, gp name,
		vorname, nachname, zuname, familienname, geburtsname, rufname, patientenname, kundenname, klientenname, namenskurzel, initialen, angehorige, notfallkontakt, therapeutenname, arztname, hausarzt,
		nom?, prenom, prenoms, nom de famille, nom de naissance, nom complet, nom du patient, nom patient, initiales, personne a prevenir, medecin traitant,
		nombre?, apellido, apellidos, primer apellido, segundo apellido, nombre completo, nombre de pila, nombre del paciente, nombre paciente, contacto de emergencia,
		naam?, voornaam, achternaam, voorletters, tussenvoegsel, roepnaam, familienaam, patientnaam, meisjesnaam, huisarts, contactpersoon`,
	Birth: `dob, birth, birthdate, birthday, date of birth, dateofbirth, birth date, year of birth, birth year, birthyear, born?,
		geburtsdatum, geburtstag, geburtsjahr, geb datum, gebdatum, gebdat, geb dat, geboren, jahrgang,
		naissance, date de naissance, datenaissance, ne le, annee de naissance, ddn,
		nacimiento, fecha de nacimiento, fechanacimiento, fecha nacimiento, ano de nacimiento,
		geboortedatum, geboortejaar, geboortedag`,
	Email: `email, e mail, emailaddress, mail?, mail address, mailadresse, emailadresse, courriel, correo, correo electronico, emailadres, adresse electronique`,
	Phone: `phone?, phone number, phonenumber, telephone?, telephone number, tel, mobile?, mobile number, cell phone, cellphone, fax, whatsapp,
		telefon?, telefonnummer, telefonnr, handy, handynummer, mobilnummer, mobiltelefon, rufnummer, festnetz,
		telephone portable, numero de telephone, portable?, telefono?, movil, numero de telefono, telefoon?, telefoonnummer, gsm, mobiel`,
	Address: `address?, street?, street address, house number, city?, town?, county?, home address,
		adresse?, anschrift, strasse?, hausnummer, hausnr, wohnort, wohnadresse, plz ort,
		rue?, ville?, commune?, domicile, lieu de naissance, direccion?, calle?, ciudad?, poblacion?, domicilio, adres?, straat?, straatnaam, huisnummer, woonplaats, gemeente?`,
	Postcode: `postcode?, post code?, postal code?, postalcode, zip?, zip code?, zipcode?, plz?, postleitzahl, code postal, codepostal, codigo postal, codigopostal`,
	Record: `mrn, medical record, medical record number, record number?, record no?, patient number, patientnumber, patient no, patient nr, chart number, chart no, hospital number, hospital no, hospital id, case number, emr id, ehr id, file number?,
		patientennummer, patientennr, patnr, pat nr, fallnummer, aktennummer, aktenzeichen, krankenaktennummer, aufnahmenummer,
		numero de dossier, no dossier, dossier patient, numero patient, numero de patient, ipp,
		historia clinica, numero de historia, nhc, numero de paciente, expediente,
		patientnummer, dossiernummer, dossiernr`,
	Insurance: `insurance?, insurance number, insurance no, insurance id, insurer id, policy number, policy no, member id, member number, membership number, health plan, plan number, health card, medicare, medicaid,
		versichertennummer, versichertennr, versicherungsnummer, versicherungsnr, krankenkasse, krankenversicherung, kvnr, kv nummer, versichertenstatus,
		numero de securite sociale, securite sociale, numero secu, nss, nir, mutuelle, numero d adherent, carte vitale,
		tarjeta sanitaria, numero de seguro, numero de poliza, poliza, seguro?, cip, numero de afiliacion, seguridad social,
		verzekeringsnummer, polisnummer, verzekerde, zorgverzekeraar, verzekerdennummer`,
	National: `national id, national insurance, nationalid, nhs number, nhs no, nhsnumber, nino, ssn, social security, social security number, passport, passport number, passport no, identity card, id card, tax id, tax number, citizen id, personal number,
		personalausweis, ausweisnummer, reisepass, passnummer, steuer id, steuernummer, steueridentifikationsnummer, sozialversicherungsnummer, sv nummer, svnr, rentenversicherungsnummer, ahv, ahv nummer,
		carte d identite, passeport, numero national, numero fiscal, registre national,
		dni, nie, nif, pasaporte, documento de identidad, numero de identidad, bsn, burgerservicenummer, paspoort, paspoortnummer, rijksregisternummer, identiteitskaart`,
	Licence: `driving licence, driving license, drivers license, driver license, drivers licence, licence number, license number, licence no, license no, licence plate, license plate, number plate, registration plate, vehicle, vehicle registration,
		fuhrerschein, fuhrerscheinnummer, kennzeichen, kfz, autokennzeichen, permis de conduire, plaque d immatriculation, immatriculation,
		permiso de conducir, matricula, carnet de conducir, rijbewijs, rijbewijsnummer, kenteken, approbationsnummer, lanr`,
	Account: `iban, bank account, account number, account no, bankverbindung, kontonummer, compte bancaire, cuenta bancaria, bankrekening, rekeningnummer, credit card, kreditkarte`,
	Web:     `url?, website?, homepage?, ip address, ip, user name, username, login, benutzername, nom d utilisateur, identifiant de connexion, nombre de usuario, gebruikersnaam, facebook, photo, foto`,
})

// things are words that say that a heading names a thing: what stands below it
// is no person's name or address.
var things = wordSet(`exercise exercises site sites clinic practice centre center location branch room measure measurement test tests stage injury diagnosis body region muscle joint limb side cuff device machine
	file filename table column sheet field unit score scale form code codes kind type category class group plan program programme protocol session event reason outcome action setting status mode method basis position
	severity level sex gender activity product equipment exercise_name way contact visit call attempt attempts followup follow ok done reached delivery server service web made report variable parameter label
	ubung ubungen standort praxis klinik filiale raum messung messwert test stufe verletzung diagnose korper muskel gelenk seite manschette gerat datei tabelle spalte einheit art grund ergebnis gruppe stadium kategorie programm
	exercice exercices site lieu cabinet clinique centre salle mesure etape lesion diagnostic muscle articulation cote brassard appareil fichier tableau colonne unite motif groupe niveau series serie repetitions repetition seances seance jours semaines minutes visites
	ejercicio ejercicios sede clinica centro sala medida etapa diagnostico musculo articulacion lado manguito aparato archivo tabla columna unidad motivo grupo nivel repeticiones sesiones sesion dias semanas minutos
	oefening oefeningen vestiging praktijk kliniek locatie kamer meting fase letsel diagnose spier gewricht zijde manchet toestel apparaat bestand tabel kolom eenheid soort reden groep niveau categorie`)

// keyWords end the headings of keys and references.
var keyWords = wordSet(`id ids key keys ref reference pseudonym identifier uid uuid guid token no nr nummer number kennung schlussel kurzel cle identifiant clave identificador numero sleutel kenmerk`)

var ageWords = wordSet(`age ages alter lebensalter edad leeftijd ageyears`)

func wordSet(list string) map[string]bool {
	set := map[string]bool{}
	for _, word := range strings.Fields(list) {
		set[word] = true
	}
	return set
}

func parsePhrases(lists map[Kind]string) []phrase {
	var all []phrase
	for kind, list := range lists {
		for _, one := range strings.Split(list, ",") {
			one = strings.TrimSpace(one)
			bare := strings.TrimSuffix(one, "?")
			all = append(all, phrase{words: strings.Fields(bare), kind: kind, loose: bare != one})
		}
	}
	// The longest phrase names what is meant best: "postal code" before "code".
	slices.SortFunc(all, func(a, b phrase) int {
		if len(a.words) != len(b.words) {
			return len(b.words) - len(a.words)
		}
		return strings.Compare(strings.Join(a.words, " "), strings.Join(b.words, " "))
	})
	return all
}

// headingKind says what a heading, given as folded words, names; empty when it
// names no identifier.
func headingKind(words []string, more []phrase) Kind {
	for _, list := range [][]phrase{more, phrases} {
		for _, p := range list {
			if at := indexOf(words, p.words); at >= 0 && !(p.loose && besideThing(words, at, len(p.words))) {
				return p.kind
			}
		}
	}
	return ""
}

func indexOf(words, part []string) int {
	for i := 0; i+len(part) <= len(words); i++ {
		if slices.Equal(words[i:i+len(part)], part) {
			return i
		}
	}
	return -1
}

func besideThing(words []string, at, length int) bool {
	for i, w := range words {
		if (i < at || i >= at+length) && things[w] {
			return true
		}
	}
	return false
}

func namesThings(words []string) bool {
	return slices.ContainsFunc(words, func(w string) bool { return things[w] })
}

func namesKeys(words []string) bool { return len(words) > 0 && keyWords[words[len(words)-1]] }

func namesAges(words []string) bool {
	return slices.ContainsFunc(words, func(w string) bool { return ageWords[w] })
}

// fold takes a heading apart into words of small letters without accents.
// firstName, FIRST_NAME and first-name are the same.
func fold(heading string) []string {
	var words []string
	var word strings.Builder
	end := func() {
		if word.Len() > 0 {
			words = append(words, word.String())
			word.Reset()
		}
	}
	wasLower := false
	for _, r := range heading {
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			if !unicode.Is(unicode.Mn, r) { // accents written apart from their letters
				end()
			}
			wasLower = false
			continue
		}
		if unicode.IsUpper(r) && wasLower {
			end()
		}
		wasLower = unicode.IsLower(r)
		word.WriteString(plainLetter(unicode.ToLower(r)))
	}
	end()
	return words
}

// plainLetter takes away a letter's accent.
func plainLetter(r rune) string {
	if r < 0x80 {
		return string(r)
	}
	const accented = "àáâãäåèéêëìíîïòóôõöøùúûüýÿçñ"
	const bare = "aaaaaaeeeeiiiioooooouuuuyycn"
	if at := strings.IndexRune(accented, r); at >= 0 {
		return bare[at/2 : at/2+1] // every accented letter above has two bytes
	}
	switch r {
	case 'ß':
		return "ss"
	case 'æ':
		return "ae"
	case 'œ':
		return "oe"
	default:
		return string(r)
	}
}
