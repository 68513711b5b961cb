package settings

import (
	"bytes"
	"fmt"
	"strings"
)

// Starter is the text of a new practice.toml: every section and key with what
// it means, defaults commented out, and one site to begin with.
func Starter() []byte {
	var b bytes.Buffer
	b.WriteString("# Settings of one practice. A line that begins with # is a remark; take the # away\n# to change a default. `evenlimb status` names every mistake with its line.\n")
	for _, s := range sections {
		b.WriteString("\n")
		remark(&b, s.about)
		if s.repeat == once {
			fmt.Fprintf(&b, "[%s]\n", s.name)
			for _, k := range s.keys {
				remark(&b, k.about+k.limits())
				if k.def == nil {
					fmt.Fprintf(&b, "%s = %s\n", k.name, literal(k.start))
				} else {
					fmt.Fprintf(&b, "# %s = %s\n", k.name, literal(k.def))
				}
			}
			continue
		}
		for _, k := range s.keys {
			remark(&b, k.name+": "+k.about+k.limits())
		}
		b.WriteString(strings.Join(s.example, "\n") + "\n")
	}
	return b.Bytes()
}

// limits says what a key may hold, for its remark.
func (k key) limits() string {
	switch {
	case len(k.words) > 0:
		return " One of " + strings.Join(k.words, ", ") + "."
	case k.kind == integer || k.kind == integers:
		return fmt.Sprintf(" From %d to %d.", k.low, k.high)
	default:
		return ""
	}
}

// remark writes a comment in lines of at most 90 letters.
func remark(b *bytes.Buffer, text string) {
	line := "#"
	for _, word := range strings.Fields(text) {
		if len(line)+1+len(word) > 90 {
			b.WriteString(line + "\n")
			line = "#"
		}
		line += " " + word
	}
	b.WriteString(line + "\n")
}

// literal writes a default as TOML.
func literal(v any) string {
	switch v := v.(type) {
	case string:
		return fmt.Sprintf("%q", v)
	case []int:
		return strings.ReplaceAll(fmt.Sprint(v), " ", ", ")
	default:
		return fmt.Sprint(v)
	}
}
