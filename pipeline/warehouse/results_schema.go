package warehouse

// resultTables hold what the analyses found; they are made empty by a build and
// filled by WriteFigures before the swap. The columns of results.figures are
// those of result.Figure.
var resultTables = []string{
	`create table results.figures (
	figure_id varchar not null, question varchar not null, measure varchar, injury_type varchar, site varchar, cohort varchar, stratum varchar,
	period_from date, period_to date, x double, x_unit varchar, statistic varchar not null,
	value double, low double, high double, level double, std_error double,
	persons integer, episodes integer, events integer, exposure double, exposure_unit varchar, missing integer,
	unit varchar, method varchar, method_version varchar, status varchar not null, reason varchar, warnings varchar[],
	as_of_batch integer not null, inputs_hash varchar)`,
	`create table results.figure_sources (figure_id varchar not null, table_name varchar not null, predicate varchar not null)`,
	`create table results.figure_totals (whole varchar not null, part varchar not null)`,
	`create table results.findings (check_name varchar not null, severity varchar not null, subject varchar not null, site varchar,
	row_count integer not null, words varchar not null, fingerprint varchar not null)`,
}
