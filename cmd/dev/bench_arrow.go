package main

// arrowBenches measure what the driver's own Arrow interface would gain. It is
// compiled only with the build tag duckdb_arrow, which README's commands do
// without; a stage adopts it where it gains a quarter.
var arrowBenches = []bench{
	{"arrow", "reading a model's columns by Arrow beside reading them by rows (needs -tags duckdb_arrow)", benchArrow},
}
