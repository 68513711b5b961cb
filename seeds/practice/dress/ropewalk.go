package dress

import "strings"

// ropewalk sends columns of a data store, with shares as fractions of one.
func ropewalk() Dress {
	share := unit{fraction, 0}
	return &columns{
		prefix: "ropewalk_",
		script: &script{
			tables: every(func(column string) string { return strings.Replace(column, "_percent", "_fraction", 1) }),
			units:  map[string]unit{"load_percent_1rm": share, "pressure_percent": share},
		},
		layouts: []layoutFile{{name: "ropewalk.toml"}},
		about:   "Parquet of a data store, with shares as fractions of one",
	}
}
