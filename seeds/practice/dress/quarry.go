package dress

import (
	"strings"

	"evenlimb/pipeline/export"
)

// quarry sends objects: the names of the export tables as programs write them,
// and pressures in kilopascals.
func quarry() Dress {
	kPa := unit{kilopascal, 0}
	return &ndjson{
		script: &script{
			tables: every(func(column string) string { return joined(strings.ReplaceAll(column, "mmhg", "kpa")) }),
			units: map[string]unit{
				"systolic_mmhg": kPa, "diastolic_mmhg": kPa, "occlusion_pressure_mmhg": kPa, "applied_pressure_mmhg": kPa,
			},
		},
		layouts: []layoutFile{{name: "quarry.toml"}},
		about:   "compressed objects, one a line, with pressures in kilopascals",
	}
}

// every is every column of every table under a heading made of its name.
func every(name func(column string) string) map[string][]heading {
	tables := map[string][]heading{}
	for _, t := range export.Tables() {
		for _, c := range t.Columns {
			tables[t.Name] = append(tables[t.Name], heading{name(c.Name), c.Name})
		}
		tables[t.Name] = append(tables[t.Name], heading{name(export.RowState), export.RowState})
	}
	return tables
}

// joined writes session_date as sessionDate.
func joined(name string) string {
	words := strings.Split(name, "_")
	for i, w := range words[1:] {
		words[i+1] = strings.ToUpper(w[:1]) + w[1:]
	}
	return strings.Join(words, "")
}
