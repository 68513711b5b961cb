package source

import (
	"errors"
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
	return w.walk(w.stylesAt, func(m *markup, kind piece) (bool, error) {
		name := string(m.name)
		switch {
		case kind == tagEnd && name == "cellXfs":
			return false, nil
		case kind != tagStart:
		case name == "cellXfs":
			inCells = true
		case name == "numFmt":
			id, err1 := m.attribute("numFmtId")
			code, err2 := m.attribute("formatCode")
			formats[id] = kindOfFormat(code)
			return true, errors.Join(err1, err2)
		case name == "xf" && inCells:
			id, err := m.attribute("numFmtId")
			number, own := formats[id]
			if !own {
				number = kindOfBuiltIn(id)
			}
			w.styles = append(w.styles, number)
			return true, err
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
	return w.walk(w.textsAt, func(m *markup, kind piece) (bool, error) {
		if kind != tagEnd || string(m.name) != "si" {
			text.see(m, kind)
			return true, nil
		}
		one := text.take()
		if total += len(one); total > maxTexts {
			return false, refuse("unpacks_too_large", "its texts take more than %d MB; send it as comma-separated text", maxTexts>>20)
		}
		w.texts = append(w.texts, one)
		return true, nil
	})
}

// textOf gathers the text of a string: its runs, without pronunciation.
type textOf struct {
	text   []byte
	inText bool
	aside  bool
}

func (t *textOf) see(m *markup, kind piece) {
	switch {
	case kind == someText && t.inText:
		t.text = append(t.text, m.text...)
	case kind == someText:
	case string(m.name) == "t":
		t.inText = kind == tagStart && !t.aside
	case string(m.name) == "rPh":
		t.aside = kind == tagStart
	}
}

func (t *textOf) take() string {
	text := plainText(string(t.text))
	t.text = t.text[:0]
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
