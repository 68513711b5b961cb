// Package words turns figures into text: rounding, intervals, natural
// frequencies, dates, the sentences of the first page, and the texts that every
// report carries. It describes and never prescribes. It computes nothing that
// is not already in a released figure, and it never prints a number that the
// gate hid.
//
// Rounding is to the nearest, the same for a value and its limits, so that a
// rounded interval always holds its rounded value.
package words
