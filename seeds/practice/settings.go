package practice

import (
	"fmt"
	"strings"
)

// Settings returns the practice's practice.toml. What it does not name has the
// default that the truth is computed for.
func (p *Practice) Settings() []byte {
	var b strings.Builder
	fmt.Fprintf(&b, "# A made-up practice. No person, site or record in it is real.\n\n")
	fmt.Fprintf(&b, "[practice]\nname = %q\ncode = %q\ntime_zone = %q\nmade_up = true\n", Name, "tarn-harrow", "Europe/Dublin")
	for _, at := range p.Scenario.sites() {
		fmt.Fprintf(&b, "\n[[sites]]\ncode = %q\nlabel = %q\nsenders = [%q]\n", at.code, at.label, at.sender)
	}
	for _, w := range ways {
		fmt.Fprintf(&b, "\n[[ways]]\ncode = %q\nlabel = %q\n", w.code, w.label)
	}
	return []byte(b.String())
}
