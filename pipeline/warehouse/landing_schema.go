package warehouse

import (
	"strings"

	"evenlimb/pipeline/export"
)

// landingVersion is the form of the landing store that this program writes.
const landingVersion = 2

// lineageColumns stand before the export columns in every landing table.
//
// _file counts up over all batches in the order (batch, path in byte order),
// so (_file, _line) orders the versions of a key. _content is the MD5 of what
// the row means; a withdrawal has none. _hash is keyHash of the key: to find
// some thousands of keys among millions, numbers are compared, not texts.
const lineageColumns = `_sender varchar not null,
	_batch integer not null,
	_file integer not null,
	_line integer not null,
	_key varchar not null,
	_hash ubigint not null,
	_content uuid,
	_action varchar not null`

// lineageNames are their names, and lineage how many they are.
var lineageNames = []string{"_sender", "_batch", "_file", "_line", "_key", "_hash", "_content", "_action"}

const lineage = 8

// landingTables are the tables of the store beside the eight export tables.
// Nothing in them is ever deleted; what changes is the state of a batch, of a
// run and of a publication, and what seen_files says of a path.
var landingTables = []string{
	`create table store (version integer not null)`,

	// Batches and what each was planned to take in.
	`create table batches (batch integer not null, received_on date not null, state varchar not null, program varchar not null)`,
	`create table batch_plan (batch integer not null, ordinal integer not null, sender varchar not null, path varchar not null, sha256 varchar not null, bytes bigint not null,
		mode varchar not null default '', problem_code varchar, problem varchar, rules varchar, allowed varchar[])`,
	`create table settings_versions (batch integer not null, path varchar not null, version varchar not null, text varchar)`,

	// Files and what became of their rows.
	`create table files (file integer not null, batch integer not null, sender varchar not null, path varchar not null, sha256 varchar not null, bytes bigint not null,
		table_name varchar, headings varchar[], rows_read integer not null, accepted integer not null, duplicates integer not null,
		corrections integer not null, withdrawals integer not null, quarantined integer not null, problem_code varchar, problem varchar,
		form varchar, layout varchar, skipped integer not null default 0, gone integer not null default 0, again_of integer)`,
	`create table quarantine (batch integer not null, file integer not null, line integer not null, reasons varchar[] not null, words varchar[] not null, cells varchar[] not null)`,
	`create table file_findings (batch integer not null, file integer not null, code varchar not null, row_count integer not null, lines integer[] not null, words varchar not null)`,
	`create table deliveries (batch integer not null, file integer not null, line integer not null, sender varchar not null, site varchar not null, complete_from date, complete_to date not null)`,

	// Files of the inbox that need not be read to be known, and files held back
	// that the practice goes on without.
	`create table seen_files (path varchar not null, bytes bigint not null, modified bigint not null, sha256 varchar not null, hashed_on date not null)`,
	`create table set_aside (path varchar not null, sha256 varchar not null, given_on date not null)`,

	// What the rows of a batch were like, column by column, what of it had moved
	// against the sender's own past, and which keys stand for which earlier ones.
	`create table profiles (batch integer not null, sender varchar not null, table_name varchar not null, column_name varchar not null, part varchar not null,
		row_count integer not null, filled integer not null, low double, middle double, high double, common varchar, common_count integer not null)`,
	`create table drift_findings (batch integer not null, sender varchar not null, table_name varchar not null, column_name varchar not null, code varchar not null,
		row_count integer not null, words varchar not null)`,
	`create table rekeys (batch integer not null, file integer not null, line integer not null, sender varchar not null, table_name varchar not null, old_key varchar not null, new_key varchar not null)`,

	// The run ledger.
	`create table runs (run integer not null, batch integer, command varchar not null, program varchar not null, started timestamp not null, ended timestamp, outcome varchar, exit_code integer)`,
	`create table run_findings (run integer not null, fingerprint varchar not null, words varchar not null)`,
	`create table trace_log (run integer, figure_id varchar not null, batch integer not null, folder varchar not null, row_count integer not null)`,

	// The publication register.
	`create table publications (publication integer not null, report varchar not null, period varchar not null, revision integer not null, batch integer not null,
		audience varchar not null, folder varchar not null, manifest_sha256 varchar not null, state varchar not null)`,
	`create table publication_files (publication integer not null, name varchar not null, sha256 varchar not null)`,
	`create table publication_figures (publication integer not null, figure_id varchar not null, shown varchar not null, value double, low double, high double,
		persons integer, status varchar not null, definition_hash varchar not null)`,
}

// ownHistory are the tables that the archive cannot bring back.
var ownHistory = []string{"runs", "run_findings", "trace_log", "publications", "publication_files", "publication_figures", "seen_files", "set_aside"}

// exportTableDDL makes the landing table of an export table. Columns that a
// file must fill may be null here, because a withdrawal names its key alone.
func exportTableDDL(t export.Table) string {
	var b strings.Builder
	b.WriteString("create table " + t.Name + " (" + lineageColumns)
	for _, c := range t.Columns {
		b.WriteString(",\n\t" + c.Name + " " + c.Type.SQL())
	}
	b.WriteString(")")
	return b.String()
}
