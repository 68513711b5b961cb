package settings

import (
	"errors"
	"os"
	"regexp"
	"strings"
	"testing"
)

const leastLayout = `sender = "north"
version = "1"
[[table]]
name = "followups"
[table.columns.episode_id]
heading = "Case"
[table.columns.contact_on]
heading = "Called on"
`

func TestLayoutExampleIsReadable(t *testing.T) {
	// The example of the documentation is read as it stands there, but for the
	// dots that stand for what an example leaves out.
	source, err := os.ReadFile("layout.go")
	if err != nil {
		t.Fatal(err)
	}
	_, after, _ := strings.Cut(string(source), "may be left out.\n//\n")
	example, _, _ := strings.Cut(after, "type Layout struct")
	text := regexp.MustCompile(`(?m)^//\t?`).ReplaceAllString(example, "")
	text = strings.Replace(text, "name = \"bouts\"\n...", "name = \"bouts\"\n[table.columns.session_id]\nheading = \"Visit\"\n[table.columns.exercise]\nheading = \"Ex\"", 1)
	text = strings.Replace(text, "name = \"measurements\"\n...", "name = \"measurements\"\n[table.columns.episode_id]\nheading = \"Case\"\n[table.columns.measured_on]\nheading = \"Day\"", 1)
	text = strings.Replace(text, "to    = 2026-06-30        # last day; or\n", "", 1)
	l, err := ParseLayout([]byte(text), "layouts/harrow.toml", nil)
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	if len(l.Tables) != 3 || len(l.Tables[0].Columns) != 6 || len(l.Tables[0].Parts) != 1 || len(l.Tables[2].Wide) != 1 {
		t.Errorf("tables %+v", l.Tables)
	}
}

func TestLayoutProblems(t *testing.T) {
	_, err := ParseLayout([]byte(leastLayout), "layouts/a.toml", nil)
	if err != nil {
		t.Fatal(err)
	}
	_, err = ParseLayout([]byte("sender = 3\n[fil]\n"), "layouts/a.toml", nil)
	var problems *Problems
	if !errors.As(err, &problems) {
		t.Fatal(err)
	}
	t.Log(err)
}
