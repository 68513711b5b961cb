// Package practice draws a made-up physiotherapy practice with several sites:
// the true course of every episode of care, the records that a practice would
// have kept of it, and the files in which its sites would have sent them. The
// truth of every headline figure is computed from the same course, so that the
// analysis can be held against it; nothing here imports the analysis.
//
// # What causes what
//
// Severity is drawn first and steers three things: the plan and with it the
// work done with the cuff inflated (mild cases are given more), the progress
// needed until the target stage is reached (severe cases need more), and the
// ends that compete with a return. Raw comparisons of dose therefore flatter a
// high dose. In the base scenario exported severity is the only common cause of
// dose and recovery. Sites differ in recovery and in events, not in dose.
//
// The recovery clock counts progress in days. It runs at speed 1 until the
// landmark of the injury type and at speed exp(effect) from then on, where
// effect grows with the sets done with the cuff inflated per week of the window
// before the landmark and flattens: ceiling * sets / (sets + halfway). Work with
// heavier loads instead of the cuff is worth a usual dose. The
// latent return is the moment the progress done equals the progress needed.
// Because the effect starts at the landmark, the people still at risk there are
// the same people whatever their dose.
//
// Everything is known at contacts only. A stage is recorded at the first
// attended visit of the clinic on or after it was reached, with the visit
// before as the last day not yet there. After a recorded return there is one
// contact just past 14 days and one just past 28; who fell back is found then,
// and the date told is the true one. Visits follow the same timetable whatever
// the severity and state, so recording says nothing about the person.
//
// People are lost at visits: with each visit goes the chance that it was the
// last, by the time since the one before, whatever the state. A recorded return
// is still followed up by telephone. A fifth of the lost leave no end on
// record. Ends that compete (surgery, a new injury, a decision not to return or
// not to continue, death) come at constant rates by type and severity and are
// recorded on their day.
//
// Strength is log-linear: the log of the involved side over the uninvolved is
// shift + intercept + slope*week - deficit*(1 - gain*recovered(week)), where
// recovered is a natural spline of weeks with knots at 0, 4 and 10 and gain
// follows the dose; girth has the same form in centimetres. Both limbs are
// measured with error and the uninvolved limb weakens too. Until week 12 tests
// go on after a return.
//
// Adverse events are Poisson per attended session by kind, site and whether the
// cuff was inflated. Where symptoms were not asked about, a part goes
// unrecorded.
//
// The named fields of Scenario break each of these on purpose.
//
// # Streams
//
// Every episode has its own source for each purpose, seeded from the scenario's
// seed and the number of the episode, so that a larger practice contains the
// smaller one's draws and a change of one process leaves the others alone.
package practice
