package guard_test

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"evenlimb/pipeline/export"
	"evenlimb/pipeline/intake/guard"
	"evenlimb/seeds/reference"
)

func TestHarmlessHeadings(t *testing.T) {
	for _, h := range []string{
		"exercise name", "Exercise", "site_name", "Clinic address", "test name", "Stage", "Übungsname", "Name der Übung", "Seite", "Gerät Name", "nom de l'exercice", "Nombre de séries", "nombre de repeticiones", "naam oefening",
		"patient_id", "client_ref", "case_id", "Patientenschlüssel", "cuff serial code", "Belastung kg", "nombre_de_seances", "phone follow-up done", "contact by phone", "mobility score", "age_band", "Alter in Jahren", "birthing", "file name", "unit name", "cell", "notes", "Bemerkung",
		"thigh girth 10cm", "pain (0-10)", "session_no", "visit number", "row", "city site", "street exercise", "Leg Address Test", "postop week",
	} {
		if found, _ := column(h, "1", "2").look(guard.Rules{}); found != nil {
			t.Errorf("heading %q was taken for %s", h, found.Kind)
		}
	}
}

// TestExportTablesPass shows a file with every heading of every table and all of
// its codes, so that nothing that may be sent is refused.
func TestExportTablesPass(t *testing.T) {
	for _, table := range export.Tables() {
		file := sheet{""}
		var headings []string
		for _, c := range table.Columns {
			headings = append(headings, c.Name)
		}
		file[0] = strings.Join(append(headings, export.RowState), "|")
		for i := range 60 {
			var cells []string
			for _, c := range table.Columns {
				cells = append(cells, plainCell(c, i))
			}
			file = append(file, strings.Join(append(cells, "current"), "|"))
		}
		if found, _ := file.look(guard.Rules{}); found != nil {
			t.Errorf("%s: %s was taken for %s", table.Name, found.Where(), found.Kind)
		}
	}
}

func plainCell(c export.Column, i int) string {
	switch c.Type {
	case export.Key:
		return fmt.Sprintf("%s%04d", c.Name[:1], i)
	case export.Date:
		return fmt.Sprintf("2025-0%d-1%d", 1+i%9, i%10)
	case export.Boolean:
		return "true"
	case export.Reps:
		return "30/15/15/15"
	case export.Integer, export.Decimal:
		return strconv.Itoa(1 + i%9)
	case export.Code, export.CodeSet:
		codes := c.Codes
		if c.From != "" && c.From != "sites" && c.From != "plan_codes" {
			codes = reference.Codes(c.From)
		}
		if len(codes) > 0 {
			return codes[i%len(codes)]
		}
		return "north"
	default:
		return "tape"
	}
}

func TestHarmlessValues(t *testing.T) {
	var labels []string
	for _, table := range []string{"exercises", "measures", "stages", "injury_types", "event_kinds", "precautions", "actions", "stop_reasons"} {
		for _, code := range reference.Codes(table) {
			labels = append(labels, reference.Label(table, code))
		}
	}
	for _, c := range []struct {
		about  string
		values []string
		in     string // heading; x1 where empty
	}{
		{"labels of all code tables", labels, ""},
		{"names of exercises", []string{"Heel Raise", "Split Squat", "Nordic Curl", "Leg Press", "Wall Slide", "Step Up", "Romanian Deadlift"}, ""},
		{"names of exercises in German", []string{"Kniebeuge", "Wadenheben stehend", "Beinpresse", "Ausfallschritt", "Treppe Gehen"}, ""},
		{"names of exercises in French", []string{"Montée genou", "Flexion Coude", "Presse Debout", "Fente Gauche", "Marche"}, ""},
		{"names of exercises in Spanish", []string{"Sentadilla", "Prensa Pierna", "Elevación Talones", "Caminar", "Zancada Izquierda"}, ""},
		{"names of exercises in Dutch", []string{"Kniebuiging", "Hielheffen Staand", "Uitvalspas Links", "Lopen", "Beenpers"}, ""},
		{"names of sites", []string{"North Clinic", "Mill Bridge", "Station Road", "Saint Martin Centre", "Old Harbour"}, ""},
		{"sites that are also given names", []string{"Victoria", "Charlotte", "Florence", "Martin"}, "site"},
		{"sites in German", []string{"Praxis Nord", "Zentrum Mitte", "Filiale Bahnhof"}, ""},
		{"codes", []string{"left", "right", "bilateral", "may_start_with_precautions"}, ""},
		{"codes in capitals", []string{"LEFT", "RIGHT", "BOTH"}, ""},
		{"short keys", []string{"p1", "p2", "p3", "p4", "p5"}, "person_id"},
		{"long keys", []string{"EP-2024-000123", "EP-2024-000124", "EP-2025-000001", "EP-2025-000002", "EP-2025-000003"}, "episode_ref"},
		{"keys that are digits", []string{"10001", "10002", "10003", "10004", "10005"}, "person_id"},
		{"keys filled up with zeros", []string{"0000000017", "0000000018", "0000000019", "0000000020", "0000000021"}, "person_id"},
		{"keys of ten digits", []string{"4820018371", "4820018372", "4820018373", "4820018374", "4820018375"}, "person_id"},
		{"keys of nine digits", []string{"482001831", "482001832", "482001833", "482001834", "482001835"}, "person_id"},
		{"keys with parts", []string{"048-201-83", "048-201-84", "048-201-85"}, "person_id"},
		{"random words of four", []string{"7f3a9c2e-11d4-4c8b-9a51-0f2b6d3e8c77", "a0b1c2d3-22d4-4c8b-9a51-0f2b6d3e8c78"}, "person_id"},
		{"hexadecimal keys", []string{"deadbeef", "cafebabe", "feedface", "0badf00d", "c0ffee12"}, "person_id"},
		{"letters alone", []string{"QXKZT", "WPLMN", "RRTVB", "KKJHG", "ZZXCV"}, "person_id"},
		{"words for persons", []string{"blue-otter", "calm-heron", "quick-newt", "brave-wren"}, "person_id"},
		{"base 64", []string{"qL9x+Zk=", "Ab3/Qr7=", "tY+u0a2="}, "token"},
		{"a letter and eight digits", []string{"P00012345", "P00012346", "P00012347"}, "person_id"},
		{"a letter and nine digits", []string{"P000123456", "P000123457", "P000123458", "P000123459", "P000123460"}, "person_id"},
		{"eight digits and a letter", []string{"20250001A", "20250002A", "20250003A", "20250004A"}, "person_id"},
		{"keys with the day of a session", []string{"s20250314-01", "s20250314-02", "s20250315-01", "s20250316-01", "s20250317-01"}, "session_id"},
		{"clinicians by number", []string{"c01", "c02", "T-7", "PT12"}, "clinician_id"},
		{"clinicians by letters", []string{"AB", "CD", "EF"}, "rater_id"},
		{"ISO dates", []string{"2025-03-14", "2024-12-31"}, ""},
		{"German dates", []string{"14.03.2025", "31.12.24", "01.02.2024"}, ""},
		{"American dates", []string{"03/14/2025", "12/31/24"}, ""},
		{"dates with a month in words", []string{"14 Mar 2025", "31-Dec-2024"}, ""},
		{"dates with a time", []string{"2025-03-14T09:30:00", "2025-03-14 09:30"}, ""},
		{"an old complaint or a slip among many", append(slices.Repeat([]string{"2025-01-01"}, 9), "1985-01-01"), "onset_date"},
		{"old complaints, fewer than half", append(slices.Repeat([]string{"2025-01-01"}, 4), "1985-01-01", "1990-02-02", "1979-03-03"), "onset_date"},
		{"a few words with capitals", []string{"Zirkon Opal", "Achat Onyx", "Jaspis Quarz", "Beryll Topas"}, ""},
		{"words with capitals among others", []string{"Zirkon Opal", "Achat Onyx", "Jaspis Quarz", "Beryll Topas", "Turmalin Granat", "opal", "onyx", "quarz", "topas"}, ""},
		{"times of day", []string{"09:30", "14:05:00"}, ""},
		{"seconds since 1970", []string{"1741944600", "1741944601"}, ""},
		{"decimals with a point", []string{"12.5", "0.123456789", "-3.25"}, ""},
		{"decimals with a comma", []string{"12,5", "0,25", "1234,5678"}, ""},
		{"blood pressure", []string{"180/110", "120/80", "095/060"}, ""},
		{"repetitions", []string{"30/15/15/15", "30/15/15", "12/12/12/12/12", "030/015/015/015"}, ""},
		{"ranges", []string{"25-34", "100-120", "2-3"}, ""},
		{"ages below 90", []string{"45", "89", "90+"}, "age"},
		{"bands of ages", []string{"25-34", "85-89", "90+"}, "age_band"},
		{"values with units", []string{"1000 mg", "45 cm", "12 kg", "1234 ml"}, ""},
		{"how it was measured", []string{"tape, supine, 10 cm above the patella", "tape", "belt, seated, 90 degrees"}, "method"},
		{"the same long remark on every row", slices.Repeat([]string{"tape, supine, relaxed, ten centimetres above the upper pole of the patella"}, 12), "method"},
		{"codes of cuffs", []string{"C-11", "wide 18", "thigh cuff B"}, "cuff_code"},
		{"short remarks", []string{"ok", "tired today", "new shoes", "arrived late"}, "remarks"},
		{"a version", []string{"1.2.3.4", "v2.10"}, ""},
		{"percent", []string{"80%", "80 %", "40-80 %"}, ""},
		{"plus and minus", []string{"+1", "++", "-", "+5.5"}, ""},
		{"booleans", []string{"true", "false", "ja", "nein", "oui", "Sí"}, ""},
		{"months that are also names", []string{"Jan 2025", "May 2025", "June", "April 2024"}, ""},
	} {
		t.Run(c.about, func(t *testing.T) {
			heading := c.in
			if heading == "" {
				heading = "x1"
			}
			file := column(heading, c.values...)
			if found, _ := file.look(guard.Rules{}); found != nil {
				t.Fatalf("%q of %q was taken for %s", file[found.Line-1], heading, found.Kind)
			}
		})
	}
}
