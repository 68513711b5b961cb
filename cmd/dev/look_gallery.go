package main

import (
	"context"
	_ "embed"
	"html/template"
	"os"
	"path/filepath"
)

// What the gallery is called in the folder of pictures.
const (
	galleryPage      = "gallery.html"
	contactSheet     = "contact-sheet.png"
	contactSheetGrey = "contact-sheet-grey.png"
	sheetWidth       = 1680
)

//go:embed look_gallery.html
var gallerySource string

// gallery writes a page with every picture and takes a picture of that, once
// as it is and once as a grey print would be.
func (l *looker) gallery(ctx context.Context) error {
	page, err := template.New("gallery").Parse(gallerySource)
	if err != nil {
		return err
	}
	for _, sheet := range []struct {
		picture string
		grey    bool
	}{{contactSheetGrey, true}, {contactSheet, false}} {
		path := filepath.Join(l.out, galleryPage)
		file, err := os.OpenFile(filepath.Clean(path), os.O_CREATE|os.O_WRONLY|os.O_TRUNC, 0o600)
		if err != nil {
			return err
		}
		err = page.Execute(file, map[string]any{"Grey": sheet.grey, "Views": l.views, "Faults": l.faults})
		if closing := file.Close(); err == nil {
			err = closing
		}
		if err != nil {
			return err
		}
		if l.browser.path == "" {
			continue
		}
		if _, err := l.browser.shoot(ctx, path, sheetWidth, filepath.Join(l.out, sheet.picture)); err != nil {
			return err
		}
	}
	return nil
}
