// Package control watches counts over time and says when they leave what the
// baseline months explain: charts with exact probability limits, a rule about
// runs, and a cumulative sum whose false alarms are computed, not assumed.
package control
