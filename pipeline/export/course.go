package export

// The tables that describe the course of care: what was intended for whom, how
// the person came along, and what stage they reached.

func episodes() Table {
	return Table{
		Name:  "episodes",
		About: "One course of care for one injury.",
		Key:   []string{"episode_id"},
		Columns: []Column{
			{Name: "episode_id", Type: Key, Required: true, About: "Pseudonym of the episode, stable at the sender."},
			{Name: "person_id", Type: Key, About: "Pseudonym of the person, stable at the sender."},
			{Name: "site", Type: Code, Required: true, From: "sites", About: "Where care is given."},
			{Name: "injury_type", Type: Code, Required: true, From: "injury_types", About: "What was injured."},
			{Name: "side", Type: Code, Required: true, Codes: codes("left right bilateral"), About: "The involved side."},
			{Name: "worse_side", Type: Code, Codes: codes("left right"), About: "The worse side of a bilateral injury."},
			{Name: "recurrence_of", Type: Key, About: "The earlier episode that this one repeats."},
			{Name: "referred_date", Type: Date, About: "Date of referral."},
			{Name: "onset_date", Type: Date, About: "Date of injury or first complaint."},
			{Name: "onset_precision", Type: Code, Codes: codes("day week month unknown"), About: "How exactly the onset is known."},
			{Name: "surgery_date", Type: Date, About: "Date of the operation that care follows."},
			{Name: "start_date", Type: Date, Required: true, About: "First day of care; day 0 of the care clock."},
			{Name: "age_band", Type: Code, From: "age_bands", About: "Age at start, in bands; 90+ at most."},
			{Name: "sex", Type: Code, Codes: codes("female male other unknown"), About: "Sex as recorded."},
			{Name: "dominant_side", Type: Code, Codes: codes("left right"), About: "The dominant side."},
			{Name: "activity_level", Type: Code, Codes: codes("inactive recreational competitive professional"), About: "Usual activity before the injury."},
			{Name: "manual_work", Type: Boolean, About: "Whether the person's work is manual."},
			{Name: "stage_at_start", Type: Code, From: "stages", About: "Activity stage on the first day of care."},
			{Name: "target_stage", Type: Code, From: "stages", About: "Activity stage that was agreed as the goal."},
			{Name: "target_set_on", Type: Date, About: "Date on which the goal was agreed."},
			{Name: "severity", Type: Code, Codes: codes("mild moderate severe"), About: "Severity as judged at the start."},
			{Name: "screening", Type: Code, Codes: codes("may_start may_start_with_precautions may_not_start not_recorded"), About: "Outcome of the screening."},
			{Name: "screened_on", Type: Date, About: "Date of the screening."},
			{Name: "precautions", Type: CodeSet, From: "precautions", About: "Precautions found at screening."},
			{Name: "end_date", Type: Date, About: "Last day of care."},
			{Name: "end_reason", Type: Code, Codes: codes("goal_met self_discharged lost_contact surgery new_injury not_returning may_not_continue referred_on transferred died other"), About: "Why care ended."},
		},
	}
}

func plans() Table {
	return Table{
		Name:    "plans",
		About:   "What was intended, from a date on, for the whole plan or for one exercise.",
		Key:     []string{"episode_id", "plan_from", "exercise"},
		Parents: []Parent{{"episode_id", "episodes"}},
		Columns: []Column{
			{Name: "episode_id", Type: Key, Required: true, About: "The episode."},
			{Name: "plan_from", Type: Date, Required: true, Ahead: true, About: "First day on which the plan holds."},
			{Name: "plan_code", Type: Code, From: "plan_codes", About: "The named way of treating."},
			{Name: "exercise", Type: Code, From: "exercises", About: "The exercise; empty for the whole plan."},
			{Name: "cuff_inflated", Type: Boolean, About: "Whether the cuff is to be inflated."},
			{Name: "setting", Type: Code, Codes: codes("clinic home remote"), About: "Where the work is to be done."},
			{Name: "sessions_per_week", Type: Decimal, Unit: "/wk", Warn: between(0, 7), Reject: between(0, 21), About: "Sessions intended a week."},
			{Name: "sets", Type: Integer, Warn: between(1, 5), Reject: between(0, 12), About: "Sets intended."},
			{Name: "reps", Type: Integer, Warn: between(1, 120), Reject: between(0, 400), About: "Repetitions intended, all sets together."},
			{Name: "hold_seconds", Type: Decimal, Unit: "s", Reject: between(0, 600), About: "Seconds of each hold intended."},
			{Name: "load_kg", Type: Decimal, Unit: "kg", Reject: between(0, 600), About: "External load intended."},
			{Name: "load_percent_1rm", Type: Decimal, Unit: "%", Warn: between(10, 90), Reject: between(0, 150), About: "Load intended as a share of the one-repetition maximum."},
			{Name: "pressure_percent", Type: Decimal, Unit: "%", Warn: between(0, 80), Reject: between(0, 150), About: "Pressure intended as a share of full occlusion pressure."},
		},
	}
}

func milestones() Table {
	return Table{
		Name:        "milestones",
		About:       "An activity stage reached, or lost again.",
		Key:         []string{"milestone_id"},
		FallbackKey: []string{"episode_id", "reached_on", "stage", "change"},
		Parents:     []Parent{{"episode_id", "episodes"}},
		Columns: []Column{
			{Name: "milestone_id", Type: Key, About: "Pseudonym of the record."},
			{Name: "episode_id", Type: Key, Required: true, About: "The episode."},
			{Name: "reached_on", Type: Date, Required: true, About: "Date on which the stage was reached or lost."},
			{Name: "stage", Type: Code, Required: true, From: "stages", About: "The activity stage."},
			{Name: "change", Type: Code, Codes: codes("reached lost"), Default: "reached", About: "Whether the stage was reached or lost."},
			{Name: "not_yet_on", Type: Date, About: "Last day known on which it was not yet reached."},
			{Name: "how_known", Type: Code, Codes: codes("observed told inferred"), About: "How the practice knows."},
		},
	}
}

func followups() Table {
	return Table{
		Name:    "followups",
		About:   "A contact made to ask how a person is.",
		Key:     []string{"episode_id", "contact_on"},
		Parents: []Parent{{"episode_id", "episodes"}},
		Columns: []Column{
			{Name: "episode_id", Type: Key, Required: true, About: "The episode."},
			{Name: "contact_on", Type: Date, Required: true, About: "Date of the contact or attempt."},
			{Name: "way", Type: Code, Codes: codes("visit phone form"), About: "How contact was sought."},
			{Name: "reached", Type: Boolean, About: "Whether the person was reached."},
			{Name: "stage", Type: Code, From: "stages", About: "Activity stage on that day."},
			{Name: "symptoms_since", Type: Boolean, About: "Whether there were symptoms since the last contact."},
		},
	}
}

func measurements() Table {
	return Table{
		Name:        "measurements",
		About:       "One value of one measure on one side of the body.",
		Key:         []string{"measurement_id"},
		FallbackKey: []string{"episode_id", "measured_on", "measure", "side", "trial", "rater_id"},
		Parents:     []Parent{{"episode_id", "episodes"}},
		Columns: []Column{
			{Name: "measurement_id", Type: Key, About: "Pseudonym of the record."},
			{Name: "episode_id", Type: Key, Required: true, About: "The episode."},
			{Name: "measured_on", Type: Date, Required: true, About: "Date of measurement."},
			{Name: "measure", Type: Code, Required: true, From: "measures", About: "What was measured."},
			{Name: "side", Type: Code, Required: true, Codes: codes("left right none"), About: "The side measured."},
			{Name: "value", Type: Decimal, Required: true, About: "The value, in the unit given or the measure's own. Its plausible range is the measure's."},
			{Name: "unit", Type: Text, About: "The unit, UCUM; empty means the measure's own, with a finding."},
			{Name: "trial", Type: Integer, Reject: between(1, 20), Default: "1", About: "Number of the trial on that day."},
			{Name: "method", Type: Text, About: "How it was measured."},
			{Name: "items_missing", Type: Integer, Reject: between(0, 100), About: "Items of a score left unanswered."},
			{Name: "rater_id", Type: Key, About: "Pseudonym of who measured."},
		},
	}
}
