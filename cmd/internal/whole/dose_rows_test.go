package whole

import (
	"testing"

	"evenlimb/pipeline/testkit"
	"evenlimb/pipeline/warehouse"
)

// compareDoseRows holds what was known at the start, how doses were recorded and
// the measures near week 12 against what R derives from the files.
func (p practiceNow) compareDoseRows(t *testing.T, a *testkit.Answers) {
	t.Helper()
	t.Run("covariates", func(t *testing.T) {
		compareRows(t, a, "rows_covariates.csv", p.covariates, []column[warehouse.DoseCovariates]{
			{"episode", func(c warehouse.DoseCovariates) any { return c.EpisodeKey }},
			{"age_band", func(c warehouse.DoseCovariates) any { return c.AgeBand }},
			{"sex", func(c warehouse.DoseCovariates) any { return c.Sex }},
			{"severity", func(c warehouse.DoseCovariates) any { return c.Severity }},
			{"onset_days", func(c warehouse.DoseCovariates) any { return c.OnsetDays }},
			{"activity_level", func(c warehouse.DoseCovariates) any { return c.ActivityLevel }},
			{"target_ladder", func(c warehouse.DoseCovariates) any { return c.TargetLadder }},
			{"target_share", func(c warehouse.DoseCovariates) any { return c.TargetShare }},
			{"baseline_pain", func(c warehouse.DoseCovariates) any { return c.BaselinePain }},
			{"complete", func(c warehouse.DoseCovariates) any { return c.Complete }},
			{"clinician", func(c warehouse.DoseCovariates) any { return c.Clinician }},
		})
	})
	t.Run("records", func(t *testing.T) {
		compareRows(t, a, "rows_records.csv", p.records, []column[warehouse.DoseRecords]{
			{"episode", func(r warehouse.DoseRecords) any { return r.EpisodeKey }},
			{"bouts", func(r warehouse.DoseRecords) any { return r.Bouts }},
			{"without_sets", func(r warehouse.DoseRecords) any { return r.WithoutSets }},
			{"with_method", func(r warehouse.DoseRecords) any { return r.WithMethod }},
			{"estimated", func(r warehouse.DoseRecords) any { return r.Estimated }},
			{"with_basis", func(r warehouse.DoseRecords) any { return r.WithBasis }},
			{"body_weight", func(r warehouse.DoseRecords) any { return r.BodyWeight }},
		})
	})
	t.Run("responses", func(t *testing.T) {
		compareRows(t, a, "rows_responses.csv", p.responses, []column[warehouse.DoseResponse]{
			{"episode", func(r warehouse.DoseResponse) any { return r.EpisodeKey }},
			{"measure", func(r warehouse.DoseResponse) any { return r.Measure }},
			{"kind", func(r warehouse.DoseResponse) any { return r.Kind }},
			{"day", func(r warehouse.DoseResponse) any { return r.Day }},
			{"value", func(r warehouse.DoseResponse) any { return r.Value }},
			{"baseline", func(r warehouse.DoseResponse) any { return r.Baseline }},
		})
	})
}
