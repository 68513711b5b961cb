package source

// The faults of a row as a whole: it is given back as it was sent, in one cell.
const (
	FaultQuotes  = "quotes_broken"
	FaultLong    = "row_too_long"
	FaultBytes   = "not_in_its_encoding"
	FaultJSON    = "not_an_object"
	FaultNested  = "value_not_plain"
	FaultTwice   = "name_twice_in_row"
	FaultUnknown = "unknown_name"
)

var faultWords = map[string]string{
	FaultQuotes:  "the quotes of the row do not close where a cell ends; a quote inside a cell is written twice",
	FaultLong:    "the row is longer than 65536 bytes",
	FaultBytes:   "the row has bytes in it that are no letters in the encoding of the file",
	FaultJSON:    "the line is not one whole JSON object",
	FaultNested:  "the row has a list or an object as a value; send plain values",
	FaultTwice:   "a name stands twice in the row",
	FaultUnknown: "the row has a name that none of the first 1,000 rows has",
}

// FaultWords says a fault in words.
func FaultWords(fault string) string { return faultWords[fault] }
