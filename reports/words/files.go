package words

import (
	"strings"

	"evenlimb/pipeline/result"
)

// FileRule is what holds of the rows of every file.
const FileRule = "Rows read = accepted + duplicates + corrections + withdrawals + set aside"

// FileColumns head what FileCounts returns; the last FileAside of them are
// counted apart, and stand in a report only where there are some.
var FileColumns = []string{"Files", "Rows read", "Accepted", "Duplicates", "Corrections", "Withdrawals", "Set aside", "Waiting", "Passed over by a layout", "Gone from a complete delivery"}

// FileAside is how many of FileColumns are counted apart.
const FileAside = 2

// FileCounts are the counts of the files of one sender.
func FileCounts(f result.FileCount) []int {
	return []int{f.Files, f.Read, f.Accepted, f.Duplicates, f.Corrections, f.Withdrawals, f.Quarantined, f.Waiting, f.Skipped, f.Gone}
}

// formWords are the parts of a form in words; commas part them.
var formWords = map[string]string{
	"comma": "comma-separated text", "semicolon": "semicolon-separated text", "tab": "tab-separated text", "bar": "text separated by bars",
	"ndjson": "objects, one a line", "parquet": "Parquet", "xlsx": "workbook",
	"utf-8": "UTF-8", "utf-16le": "UTF-16", "utf-16be": "UTF-16", "windows-1252": "Windows-1252",
	"gzip": "compressed (gzip)", "zstd": "compressed (zstd)", "backslash": "quotes marked by a backslash", "quote none": "without quotes",
}

// Form says in words in which form a file was read.
func Form(f result.FileForm) string {
	var said []string
	for part := range strings.SplitSeq(f.Form, ", ") {
		word, rest, _ := strings.Cut(part, " ")
		switch phrase := formWords[part]; {
		case part == "csv": // its delimiter says so
		case phrase != "":
			said = append(said, phrase)
		case word == "skip":
			said = append(said, "lines before the headings: "+rest)
		case word == "delimiter":
			said = append(said, "text separated by "+rest)
		case part != "":
			said = append(said, part)
		}
	}
	if len(said) == 0 {
		return "could not be told"
	}
	return strings.Join(said, ", ")
}
