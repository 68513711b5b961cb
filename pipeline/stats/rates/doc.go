// Package rates counts events honestly: rates per unit of exposure, shares of
// people, their ratios, and what a count says against what was expected. All
// limits are exact unless the function's name says otherwise; a count of zero
// gets an upper limit, never "0 %" alone.
//
// A confidence level is two-sided and lies strictly between 0 and 1. Exposure
// is in the caller's unit (sessions, minutes, person-years) and every rate is
// per one such unit.
package rates
