package main

import (
	"bytes"
	"context"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"html"
	"image"
	"image/draw"
	"image/png"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// browser renders pages with a headless Chromium, each call in a new profile.
type browser struct {
	path    string
	scratch string
}

// frame is a page of a given width around the page looked at. A window of
// Chromium is never narrower than 500 pixels, so that a phone has to be a frame.
//
//go:embed look_frame.html
var frame string

// measured is what the script of the frame found.
type measured struct {
	Height int
	Faults []string
}

// shoot renders the whole page at a width, saves the picture, and returns what
// the frame's script found wrong.
func (b browser) shoot(ctx context.Context, page string, width int, picture string) ([]string, error) {
	m, err := b.measure(ctx, page, width)
	if err != nil {
		return nil, err
	}
	around, err := b.writeFrame(page, width, m.Height)
	if err != nil {
		return nil, err
	}
	raw := filepath.Join(b.scratch, "raw.png")
	// The window's own bars take some of its height; what is too much is cut off.
	if _, err := b.run(ctx, around, fmt.Sprintf("--window-size=%d,%d", width, m.Height+200), "--hide-scrollbars", "--screenshot="+raw); err != nil {
		return nil, err
	}
	return m.Faults, crop(raw, picture, width, m.Height)
}

// measure lays the page out and asks for its height and faults.
func (b browser) measure(ctx context.Context, page string, width int) (measured, error) {
	var m measured
	around, err := b.writeFrame(page, width, 800)
	if err != nil {
		return m, err
	}
	dom, err := b.run(ctx, around, "--window-size="+strconv.Itoa(width)+",1000", "--hide-scrollbars", "--virtual-time-budget=5000", "--dump-dom")
	if err != nil {
		return m, err
	}
	found := regexp.MustCompile(`data-measured="([^"]*)"`).FindSubmatch(dom)
	if found == nil {
		return m, errors.New("the browser did not measure the page")
	}
	if err := json.Unmarshal([]byte(html.UnescapeString(string(found[1]))), &m); err != nil {
		return m, fmt.Errorf("what the browser measured: %w", err)
	}
	// A picture higher than this is more than Chromium can draw.
	m.Height = min(m.Height, 16000)
	return m, nil
}

func (b browser) writeFrame(page string, width, height int) (string, error) {
	text := strings.NewReplacer(
		"{{page}}", html.EscapeString(fileURL(page)), "{{width}}", strconv.Itoa(width), "{{height}}", strconv.Itoa(height),
	).Replace(frame)
	path := filepath.Join(b.scratch, "frame.html")
	return path, os.WriteFile(path, []byte(text), 0o600)
}

// print makes the PDF that printing the page would.
func (b browser) print(ctx context.Context, page, pdf string) error {
	_, err := b.run(ctx, page, "--print-to-pdf="+pdf, "--no-pdf-header-footer")
	return err
}

// run starts the browser on a file and returns what it prints.
func (b browser) run(ctx context.Context, page string, flags ...string) ([]byte, error) {
	profile, err := os.MkdirTemp(b.scratch, "profile-")
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(ctx, time.Minute)
	defer cancel()
	args := append([]string{
		"--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
		"--disable-component-update", "--disable-sync", "--allow-file-access-from-files", "--user-data-dir=" + profile,
	}, flags...)
	cmd := exec.CommandContext(ctx, b.path, append(args, fileURL(page))...)
	var stdout, stderr bytes.Buffer
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	if err := cmd.Run(); err != nil {
		return nil, fmt.Errorf("%s: %w: %s", filepath.Base(b.path), err, bytes.TrimSpace(stderr.Bytes()))
	}
	return stdout.Bytes(), os.RemoveAll(profile)
}

// crop saves the upper left part of a picture.
func crop(from, to string, width, height int) error {
	in, err := os.Open(filepath.Clean(from))
	if err != nil {
		return fmt.Errorf("the browser made no picture: %w", err)
	}
	whole, err := png.Decode(in)
	if closing := in.Close(); err == nil {
		err = closing
	}
	if err != nil {
		return err
	}
	part := image.NewRGBA(image.Rect(0, 0, min(width, whole.Bounds().Dx()), min(height, whole.Bounds().Dy())))
	draw.Draw(part, part.Bounds(), whole, whole.Bounds().Min, draw.Src)
	var out bytes.Buffer
	if err := png.Encode(&out, part); err != nil {
		return err
	}
	return os.WriteFile(to, out.Bytes(), 0o600)
}

func fileURL(path string) string {
	return (&url.URL{Scheme: "file", Path: filepath.ToSlash(path)}).String()
}

// command60 runs a program that is given a minute.
func command60(ctx context.Context, name string, args ...string) error {
	ctx, cancel := context.WithTimeout(ctx, time.Minute)
	defer cancel()
	out, err := exec.CommandContext(ctx, name, args...).CombinedOutput()
	if err != nil {
		return fmt.Errorf("%s: %w: %s", filepath.Base(name), err, bytes.TrimSpace(out))
	}
	return nil
}
