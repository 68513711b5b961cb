package source

// Sheet says on which sheet of a file, from 1, and in which of its rows or
// physical lines a row with that line number stands.
func (f Form) Sheet(line int) (sheet, row int) {
	if f.Format != XLSX {
		return 1, line
	}
	return line/sheetLines + 1, line % sheetLines
}
