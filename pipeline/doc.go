// Package pipeline is the way from dropped files to published figures. It holds
// no code of its own; this page tells one night.
//
//  1. nightly.Hold takes the practice folder: two runs never share it.
//  2. settings.Load reads practice.toml. Nothing unknown is let through, and all
//     that is wrong is said at once.
//  3. intake.Run first finishes a batch that an earlier run left open, then looks
//     through inbox/. New files and changed settings become the next batch: its
//     plan is written and every file archived before the first row is read. Each
//     file goes in wholly or not at all; each of its rows is accepted, a
//     duplicate, a correction, a withdrawal, or quarantined with its reasons.
//  4. warehouse.Make derives everything from the landing store up to the newest
//     batch, with that batch's settings, into a file beside the old one. A query
//     is made when what it reads stands, and steps 5 and 6 begin while others
//     are on their way.
//  5. checks.Run asks what is odd in the data. Odd data is a finding, not an error.
//  6. analysis/... reads the published tables, cuts them to the month and
//     returns figures: numbers with intervals, where they come from, and which
//     sum to which. The statistics are pure functions of package stats.
//  7. Making.Finish puts figures and findings into the new file, and
//     warehouse.Swap renames it over the old one. A night that fails before this
//     leaves yesterday's results whole.
//  8. For each month that is due (nightly.Due), disclosure.Release decides which
//     figures may circulate, reports/monthly writes them down, the publication
//     register notes every file's digest and every figure as it was shown, and
//     the folder is renamed into place. A registered report whose files are gone
//     is made again from its own batch, byte for byte.
//  9. The run ledger notes how the run ended and what it found. Something found
//     for the first time ends the night with the exit code that calls a person.
//
// A night is a pure function of the landing store up to a batch, the settings
// of that batch, the code tables and the program's version. The clock gives two
// things only: the label of a new batch, and the times in the ledger and log.
package pipeline
