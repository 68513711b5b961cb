// Package disclosure is the one gate for small counts. Figures and the totals
// between them go in with an audience; what that audience may see comes out as
// a Released, a type that nothing else can fill. Every report is written from a
// Released and from nothing else.
//
// # What the gate does
//
//  1. It looks up what kind of output each figure is (kinds.go). A statistic
//     that the table does not know is hidden.
//  2. It hides each figure that is too small on its own: a rate, mean or model
//     result on too few persons (more are asked for at a single site), a count
//     of 1 to 9 persons by a characteristic or an outcome, a curve that starts
//     with too few. A count of zero may be shown.
//  3. It hides further counts until no total gives a hidden one away
//     (totals.go).
//  4. It takes everything else off a hidden row (limits, standard error,
//     persons, events, reason, warnings), and off a shown row what would give a
//     hidden number back (columns.go).
//
// Totals protect counts of persons. The events and sessions of a group that is
// too small are hidden with it; they can be had by taking those of all other
// groups off the practice's, which are no persons and stay shown.
//
// Floors count persons, not episodes. What two releases with different
// definitions give away together, and how narrow a hidden count can be made
// from several totals at once, is not judged here yet; the history of what was
// published is taken and carried for it.
package disclosure
