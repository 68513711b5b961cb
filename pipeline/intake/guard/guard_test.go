package guard_test

import (
	"fmt"
	"strings"
	"testing"

	"evenlimb/pipeline/intake/guard"
)

func TestAllowance(t *testing.T) {
	file := column("Kunde", "Schmidt", "Fischer", "Weber")
	if found, passed := file.look(guard.Rules{Sender: "north", Allow: []string{"north/kunde"}}); found != nil || len(passed) != 1 || passed[0].Kind != guard.Name || passed[0].Column != 2 {
		t.Errorf("allowed column: found %+v, let through %+v", found, passed)
	}
	for _, other := range []string{"south/Kunde", "north/Kunden", "north/*", "Kunde", ""} {
		if found, _ := file.look(guard.Rules{Sender: "north", Allow: []string{other}}); found == nil {
			t.Errorf("allow = %q let another column through", other)
		}
	}
	// An allowance is for one column: the next one is still looked at.
	two := sheet{"Kunde|Datum 2", "Schmidt|04.05.1961", "Weber|30.11.1975", "Fischer|01.01.1980"}
	if found, _ := two.look(guard.Rules{Sender: "north", Allow: []string{"north/Kunde"}}); found == nil || found.Kind != guard.Birth {
		t.Errorf("found %+v, want birth dates", found)
	}
	// A heading by itself can be allowed as well, and what it holds is then told once.
	if found, passed := column("dob", "1961-05-04", "1970-01-01").look(guard.Rules{Sender: "north", Allow: []string{"north/dob"}}); found != nil || len(passed) != 1 {
		t.Errorf("found %+v, let through %+v", found, passed)
	}
}

func TestMoreHeadings(t *testing.T) {
	rules := guard.Rules{Sender: "north", MoreHeadings: []string{"Stammnummer", "house doctor"}}
	for _, h := range []string{"Stammnummer", "stammnummer", "STAMMNUMMER alt", "HouseDoctor"} {
		if found, _ := column(h, "").look(rules); found == nil || found.Kind != guard.Named {
			t.Errorf("heading %q: found %+v", h, found)
		}
	}
	if found, _ := column("doctor house", "").look(rules); found != nil {
		t.Errorf("found %+v", found)
	}
}

func TestWords(t *testing.T) {
	found, _ := column("method", "Anna Berg").look(guard.Rules{})
	want := `column 3 ("method"), line 2 looks like names of persons; nothing of the file was kept. Take them out where the file is made and send it again under the same name; if it is a false alarm, write allow = ["north/method"] under [guard] in practice.toml`
	if got := found.Words("north"); got != want {
		t.Errorf("words\n%s\nwant\n%s", got, want)
	}
}

func TestSheets(t *testing.T) {
	g := guard.New(guard.Rules{})
	g.Headings(1, []string{"x1"})
	g.Row(2, []string{"Schmidt"})
	g.Row(3, []string{"Weber"})
	g.Row(4, []string{"Fischer"})
	if found := g.Headings(2_000_001, []string{"episode_id"}); found == nil || found.Line != 2 {
		t.Fatalf("the sheet before was not settled: %+v", found)
	}
}

func TestBrokenRow(t *testing.T) {
	g := guard.New(guard.Rules{})
	g.Headings(1, []string{"episode_id", "method"})
	g.Broken(2, []string{`e1,"tape`})
	if g.Verdict() != nil {
		t.Fatal("a broken row without identifiers was refused")
	}
	g = guard.New(guard.Rules{})
	g.Headings(1, []string{"episode_id", "method"})
	g.Broken(2, []string{`e1,"write to anna@example.org`})
	if found := g.Verdict(); found == nil || found.Kind != guard.Email || found.Line != 2 {
		t.Fatalf("found %+v", found)
	}
}

// TestLateRow shows that a single identifier is found however late it comes.
func TestLateRow(t *testing.T) {
	g := guard.New(guard.Rules{})
	g.Headings(1, []string{"episode_id", "method"})
	for i := range 6_000 {
		g.Row(2+i, []string{"e" + strings.Repeat("1", i%7+1), "tape " + strings.Repeat("x", i%150) + fmt.Sprint(i%6000)})
	}
	g.Row(6_002, []string{"e1", "Julia Schmidt"})
	if found := g.Verdict(); found == nil || found.Line != 6_002 {
		t.Fatalf("found %+v", found)
	}
}
