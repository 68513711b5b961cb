package main

import (
	"bytes"
	"context"
	"flag"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// These tests start no browser; what the pictures look like is for the eye.

func TestLookTakesOneFolder(t *testing.T) {
	for _, c := range []struct {
		args   []string
		folder string // empty: refused
		out    string
	}{
		{[]string{"reports"}, "reports", ""},
		{[]string{"--out", "x", "reports"}, "reports", "x"},
		{[]string{"reports", "--out", "x"}, "reports", "x"},
		{nil, "", ""},
		{[]string{"reports", "more"}, "", ""},
		{[]string{"--wide", "reports"}, "", ""},
	} {
		flags := flag.NewFlagSet("look", flag.ContinueOnError)
		flags.SetOutput(&bytes.Buffer{})
		out := flags.String("out", "", "")
		folder, err := parseFolder(flags, c.args)
		if (err != nil) != (c.folder == "") || (err == nil && (folder != c.folder || *out != c.out)) {
			t.Errorf("%v: folder %q, out %q, error %v", c.args, folder, *out, err)
		}
	}
}

func TestLookRefusesWhatItCannotUse(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for name, args := range map[string][]string{
		"no such folder":      {filepath.Join(dir, "missing")},
		"a file":              {file},
		"nothing to look at":  {dir},
		"out among the files": {dir, "--out", filepath.Join(dir, "pictures")},
	} {
		var stdout, stderr bytes.Buffer
		if code := runLook(context.Background(), args, &stdout, &stderr); code != 1 || !strings.Contains(stderr.String(), "name ") && !strings.Contains(stderr.String(), "make the reports") {
			t.Errorf("%s: code %d, said %q", name, code, stderr.String())
		}
	}
}

func TestLookFindsEveryKindOfFileInOrder(t *testing.T) {
	dir := t.TempDir()
	want := []string{"2026-06/monthly.html", "2026-06/monthly.xlsx", "2026-06/plots/a.png", "2026-06/plots/a.svg", "index.html"}
	for _, f := range append([]string{"2026-06/figures.csv", "2026-06/manifest.json"}, want...) {
		path := filepath.Join(dir, filepath.FromSlash(f))
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	l := looker{folder: dir}
	got, err := l.files()
	if err != nil {
		t.Fatal(err)
	}
	for i := range got {
		got[i] = filepath.ToSlash(got[i])
	}
	if !slices.Equal(got, want) {
		t.Errorf("found %q, wanted %q", got, want)
	}
	names := map[string]bool{}
	for _, f := range got {
		names[l.name(filepath.FromSlash(f), "")] = true
	}
	if len(names) != len(want) {
		t.Errorf("%d names for %d files", len(names), len(want))
	}
}

func TestCropKeepsTheUpperLeft(t *testing.T) {
	whole := image.NewRGBA(image.Rect(0, 0, 6, 8))
	whole.Set(2, 3, color.Black)
	from, to := filepath.Join(t.TempDir(), "from.png"), filepath.Join(t.TempDir(), "to.png")
	var data bytes.Buffer
	if err := png.Encode(&data, whole); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(from, data.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := crop(from, to, 5, 4); err != nil {
		t.Fatal(err)
	}
	part, err := os.Open(filepath.Clean(to))
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = part.Close() }()
	got, err := png.Decode(part)
	if err != nil {
		t.Fatal(err)
	}
	if got.Bounds().Dx() != 5 || got.Bounds().Dy() != 4 {
		t.Errorf("cut to %v", got.Bounds())
	}
	if r, g, b, a := got.At(2, 3).RGBA(); r+g+b != 0 || a != 0xffff {
		t.Error("the cut is not the upper left part")
	}
	if err := crop(filepath.Join(t.TempDir(), "none.png"), to, 5, 4); err == nil {
		t.Error("a missing picture was cut")
	}
}
