package warehouse

func testRoots() ([]rootTable, error) {
	roots, err := seedTables()
	if err != nil {
		return nil, err
	}
	types := rootTable{schema: "settings", name: "injury_types", columns: []rootColumn{{"code", "varchar"}, {"default_target_stage", "varchar"}, {"contact_gap_days", "integer"}},
		rows: [][]any{{"calf_strain", "full_participation", 42}}}
	return append(roots, types,
		rootTable{schema: "settings", name: "run", columns: []rootColumn{{"as_of_batch", "integer"}, {"received_on", "date"}}, rows: [][]any{{testBatch, testDay}}},
		rootTable{schema: "settings", name: "return_rules", columns: []rootColumn{{"target_by_day", "integer"}, {"hold_days", "integer"}, {"hold_days_short", "integer"}, {"hold_days_long", "integer"}}, rows: [][]any{{28, 14, 0, 28}}},
		rootTable{schema: "settings", name: "report", columns: []rootColumn{{"silent_after_days", "integer"}}, rows: [][]any{{14}}},
		rootTable{schema: "settings", name: "sites", columns: []rootColumn{{"code", "varchar"}, {"label", "varchar"}}, rows: [][]any{{"north", "North"}, {"south", "South"}}},
	), nil
}
