package dress

import (
	"embed"
	"strings"
)

// Own is how the site of that code sends its files when every site sends what
// its system writes; nil for a site that keeps to the export tables.
func Own(site string) Dress {
	switch site {
	case "millrace":
		return millrace()
	case "orchard":
		return orchard()
	case "quarry":
		return quarry()
	case "saltmarsh":
		return saltmarsh()
	case "ropewalk":
		return ropewalk()
	default:
		return nil
	}
}

// layoutFile is a layout of a desk.
type layoutFile struct {
	name string
	// A later version of another layout holds from a night on, and differs from
	// it by these replacements.
	of      string
	night   int
	replace []string
}

//go:embed layouts/*.toml
var layoutTexts embed.FS

// layoutsOf writes layouts out for a practice whose nights have these dates.
func layoutsOf(list []layoutFile, nights []string) []File {
	var files []File
	for _, l := range list {
		name := l.name
		if l.of != "" {
			name = l.of
		}
		text, err := layoutTexts.ReadFile("layouts/" + name)
		if err != nil {
			panic(err) // the files are compiled in and tested
		}
		changed := strings.NewReplacer(l.replace...).Replace(string(text))
		files = append(files, File{l.name, []byte(strings.ReplaceAll(changed, theNight, nights[l.night]))})
	}
	return files
}

// theNight stands for the date of the night from which on a layout holds.
const theNight = "DATE-OF-THE-NIGHT"
