package source

import (
	"encoding/xml"
	"strconv"
	"strings"
)

// prepare reads the styles and the shared strings, once.
func (w *workbook) prepare() error {
	if w.ready {
		return nil
	}
	w.ready = true
	if err := w.readStyles(); err != nil {
		return err
	}
	return w.readTexts()
}

// readStyles finds for every style whether its numbers are dates or times.
func (w *workbook) readStyles() error {
	if w.stylesAt == "" {
		return nil
	}
	formats := map[string]numberKind{}
	inCells := false
	return w.walk(w.stylesAt, func(token xml.Token) (bool, error) {
		switch tag := token.(type) {
		case xml.StartElement:
			switch name := tag.Name.Local; {
			case name == "numFmt":
				formats[attribute(tag, "numFmtId")] = kindOfFormat(attribute(tag, "formatCode"))
			case name == "cellXfs":
				inCells = true
			case name == "xf" && inCells:
				id := attribute(tag, "numFmtId")
				kind, own := formats[id]
				if !own {
					kind = kindOfBuiltIn(id)
				}
				w.styles = append(w.styles, kind)
			}
		case xml.EndElement:
			if tag.Name.Local == "cellXfs" {
				return false, nil
			}
		}
		return true, nil
	})
}

// readTexts reads the strings that cells share. Guides to pronunciation are
// left out.
func (w *workbook) readTexts() error {
	if w.textsAt == "" {
		return nil
	}
	var text textOf
	total := 0
	return w.walk(w.textsAt, func(token xml.Token) (bool, error) {
		if end, ok := token.(xml.EndElement); ok && end.Name.Local == "si" {
			one := text.take()
			if total += len(one); total > maxTexts {
				return false, refuse("unpacks_too_large", "its texts take more than %d MB; send it as comma-separated text", maxTexts>>20)
			}
			w.texts = append(w.texts, one)
			return true, nil
		}
		text.see(token)
		return true, nil
	})
}

// textOf gathers the text of a string: its runs, without pronunciation.
type textOf struct {
	text   strings.Builder
	inText bool
	aside  bool
}

func (t *textOf) see(token xml.Token) {
	switch tag := token.(type) {
	case xml.StartElement:
		switch tag.Name.Local {
		case "t":
			t.inText = !t.aside
		case "rPh":
			t.aside = true
		}
	case xml.EndElement:
		switch tag.Name.Local {
		case "t":
			t.inText = false
		case "rPh":
			t.aside = false
		}
	case xml.CharData:
		if t.inText {
			t.text.Write(tag)
		}
	}
}

func (t *textOf) take() string {
	text := plainText(t.text.String())
	t.text.Reset()
	return text
}

// plainText undoes the way in which a workbook writes letters that XML cannot
// hold, _x000D_, and gives line breaks the form they have elsewhere.
func plainText(text string) string {
	if strings.Contains(text, "_x") {
		var b strings.Builder
		for rest := text; rest != ""; {
			if len(rest) >= 7 && rest[:2] == "_x" && rest[6] == '_' {
				if code, err := strconv.ParseUint(rest[2:6], 16, 16); err == nil {
					b.WriteRune(rune(code))
					rest = rest[7:]
					continue
				}
			}
			b.WriteByte(rest[0])
			rest = rest[1:]
		}
		text = b.String()
	}
	return strings.ReplaceAll(text, "\r\n", "\n")
}
