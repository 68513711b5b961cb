package practice

// The names under which the intake reports what is planted. A reason that is
// about one cell stands behind the name of its column and a colon.
const (
	reasonDate     = "not_a_date"
	reasonNumber   = "not_a_number"
	reasonCode     = "unknown_code"
	reasonBoolean  = "not_true_or_false"
	reasonRange    = "out_of_range"
	reasonRequired = "required_empty"
	reasonCells    = "wrong_number_of_cells"
	reasonQuotes   = "quotes_broken"
	reasonSender   = "not_this_senders"
	reasonTwins    = "trial_missing"

	findingTwice    = "key_twice_in_file"
	findingUnusual  = "unusual"
	findingPounds   = "looks_like_pounds"
	problemNoTable  = "no_table_fits"
	problemIdentity = "identity"

	driftFill = "fill_falls"

	countDuplicates  = "duplicates"
	countCorrections = "corrections"
	countWithdrawals = "withdrawals"
	countGone        = "gone"
)
