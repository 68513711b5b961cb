package source

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/iotest"
)

// pieces writes down what markup finds in a text.
func pieces(src io.Reader, attributes ...string) (all []string, err error) {
	m := newMarkup(src)
	for {
		kind, err := m.next()
		if errors.Is(err, io.EOF) {
			return all, nil
		}
		if err != nil {
			return nil, err
		}
		switch kind {
		case tagStart:
			one := "<" + string(m.name)
			for _, a := range attributes {
				value, err := m.attribute(a)
				if err != nil {
					return nil, err
				}
				one += fmt.Sprintf(" %s=%q", a, value)
			}
			all = append(all, one)
		case tagEnd:
			all = append(all, "</"+string(m.name))
		default:
			all = addText(all, string(m.text))
		}
	}
}

// addText adds a text, as one with that before it.
func addText(all []string, text string) []string {
	if n := len(all); n > 0 && strings.HasPrefix(all[n-1], "=") {
		all[n-1] += text
		return all
	}
	return append(all, "="+text)
}

func TestMarkup(t *testing.T) {
	text := "\n<?xml version='1.0' encoding=\"UTF-8\"?><x:a r='1>2' s = \"&lt;&#x41;\"  ><!-- <b> --><b/>one &amp; two<![CDATA[<&>]]>\r\n</x:a >"
	want := "=\n|<a r=\"1>2\" s=\"<A\"|<b r=\"\" s=\"\"|</b|=one & two<&>\n|</a"
	for name, src := range map[string]io.Reader{"at once": strings.NewReader(text), "byte by byte": iotest.OneByteReader(strings.NewReader(text))} {
		got, err := pieces(src, "r", "s")
		if err != nil || strings.Join(got, "|") != want {
			t.Errorf("%s: %q, %v", name, got, err)
		}
	}
	for _, bad := range []string{"<!DOCTYPE a>", "<a", "<a b='>", "<!-- ", "a &b; c", "&#xD800;", "&#1114112;", "<?xml encoding='utf-16'?>", "<>", "</>", "< a>", "<a/b>", "<![CDATA[x]]"} {
		if got, err := pieces(strings.NewReader(bad)); !errors.Is(err, errMarkup) {
			t.Errorf("%q: %q, %v", bad, got, err)
		}
	}
}

// FuzzMarkup holds markup against encoding/xml on what that accepts.
func FuzzMarkup(f *testing.F) {
	for _, seed := range []string{"<a r='1'>x</a>", "<a><b/>&amp;<![CDATA[y]]></a>", "<?xml version='1.0'?><x:a x:r=\"&#10;\"/>", "<!-- - --><a\n>\r\n</a\t>", "<a r=\"'\" s='\"'/>", "<a r='>'>", "a<b"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, err := pieces(strings.NewReader(text), "r")
		want, ok := standard(text)
		if !ok {
			return
		}
		if err != nil || strings.Join(got, "|") != strings.Join(want, "|") {
			t.Errorf("%q: %q, %v; encoding/xml reads %q", text, got, err, want)
		}
	})
}

// standard is what encoding/xml finds; not ok when it refuses the text, or the
// text has what workbooks do not.
func standard(text string) (all []string, ok bool) {
	d := xml.NewDecoder(strings.NewReader(text))
	for {
		token, err := d.RawToken()
		if errors.Is(err, io.EOF) {
			return all, true
		}
		if err != nil {
			return nil, false
		}
		switch tag := token.(type) {
		case xml.StartElement:
			one := "<" + tag.Name.Local
			value := ""
			for i := len(tag.Attr) - 1; i >= 0; i-- {
				if tag.Attr[i].Name.Local == "r" {
					value = tag.Attr[i].Value
				}
				if strings.Contains(tag.Attr[i].Name.Local, ":") {
					return nil, false
				}
			}
			if all = append(all, one+fmt.Sprintf(" r=%q", value)); strings.Contains(tag.Name.Local, ":") {
				return nil, false
			}
		case xml.EndElement:
			if all = append(all, "</"+tag.Name.Local); strings.Contains(tag.Name.Local, ":") {
				return nil, false
			}
		case xml.CharData:
			all = addText(all, string(tag))
		case xml.Directive:
			return nil, false
		}
	}
}
