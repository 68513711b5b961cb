package awkward

import (
	"html"
	"regexp"
	"strings"
	"testing"
)

var (
	tag   = regexp.MustCompile(`<[^>]*>`)
	style = regexp.MustCompile(`(?s)<style.*?</style>|<svg.*?</svg>`)
	grid  = regexp.MustCompile(`(?s)<table>.*?</table>`)
	cell  = regexp.MustCompile(`(?s)<td>(.*?)</td>`)
	title = regexp.MustCompile(`(?s)<caption>(.*?)</caption>`)
	ended = regexp.MustCompile(`</(p|li|h[1-6]|tr|caption|dt|dd|div)>`)
	said  = regexp.MustCompile(`(?s)<p>(.*?)</p>`)
)

// inWords is the text of a page, a line for each paragraph and row, up to its
// methods.
func inWords(page string) string {
	page, _, _ = strings.Cut(page, `<h2 id="methods">`)
	text := ended.ReplaceAllString(style.ReplaceAllString(page, ""), "\n")
	text = html.UnescapeString(tag.ReplaceAllString(strings.ReplaceAll(text, "</td>", " | "), ""))
	var lines []string
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(line); line != "" {
			lines = append(lines, line)
		}
	}
	return strings.Join(lines, "\n")
}

// nonsense is what no page may hold.
var nonsense = []string{
	"NaN", "Inf ", "%!", "<nil>", "e+0", "e-0", "not shown episodes", "withheld episodes", "not shown people", "in 0 of these", "In 0 of them", " of 0 ",
	": .", " .", " ,", "()", "..", "\u2212\u2212", "; 0 were",
}

// bareSetting is an item of a list that names a setting by its key.
var bareSetting = regexp.MustCompile(`<li>[a-z]+\.[a-z_]+: [^<]*`)

// nothing is what a cell holds that says nothing.
var nothing = []string{"", "–", "not shown", "withheld", "too few to say", "first report"}

// read looks for what would shame a page: numbers that are none, sentences about
// nothing, tables that say nothing.
func read(t *testing.T, page string) {
	t.Helper()
	text := inWords(page)
	for _, bad := range nonsense {
		if i := strings.Index(text, bad); i >= 0 {
			from := strings.LastIndexByte(text[:i], '\n') + 1
			line, _, _ := strings.Cut(text[from:], "\n")
			t.Errorf("the page holds %q: %s", bad, line)
		}
	}
	if key := bareSetting.FindString(page); key != "" {
		t.Errorf("a setting stands there without words: %s", key)
	}
	for _, table := range grid.FindAllString(page, -1) {
		says := false
		for _, c := range cell.FindAllStringSubmatch(table, -1) {
			says = says || !contains(nothing, html.UnescapeString(c[1]))
		}
		if !says {
			t.Errorf("a table says nothing: %s", title.FindString(table))
		}
	}
	seen := map[string]bool{}
	lead, _, _ := strings.Cut(page, "<nav")
	for _, p := range said.FindAllStringSubmatch(lead, -1) {
		s := strings.TrimSpace(tag.ReplaceAllString(p[1], ""))
		if s == "" || seen[s] {
			t.Errorf("a sentence is empty or stands twice on the first page: %q", s)
		}
		seen[s] = true
	}
}

func contains(list []string, text string) bool {
	for _, item := range list {
		if item == text {
			return true
		}
	}
	return false
}
