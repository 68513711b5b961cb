// Package pages writes the HTML of the reports: one file each, style and
// pictures inside, nothing fetched, readable on a telephone, on paper and in
// grey. It takes released figures only.
package pages
