package main

import (
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"golang.org/x/term"
)

// progress says how far a run is, on standard error: one live line on a
// terminal, gone when the run ends; a plain line for each stage elsewhere.
type progress struct {
	w      io.Writer
	live   bool
	width  int
	now    func() time.Time
	stage  string
	shown  time.Time
	marked bool // a live line stands on the terminal
}

func newProgress(c *call) *progress {
	p := &progress{w: c.stderr, now: c.now}
	if c.quiet {
		p.w = io.Discard
		return p
	}
	if file, ok := c.stderr.(*os.File); ok && term.IsTerminal(int(file.Fd())) {
		if width, _, err := term.GetSize(int(file.Fd())); err == nil && width > 20 {
			p.live, p.width = true, width
		}
	}
	return p
}

// Stage begins a stage.
func (p *progress) Stage(name string) {
	p.stage = name
	p.shown = time.Time{}
	if !p.live {
		fmt.Fprintln(p.w, name)
		return
	}
	p.line(name)
}

// Step says how far the stage is. On a terminal at most ten are shown a second.
func (p *progress) Step(what string, done, of int) {
	if !p.live || p.now().Sub(p.shown) < 100*time.Millisecond {
		return
	}
	p.shown = p.now()
	const cells = 20
	bar := ""
	if of > 0 {
		full := cells * done / of
		bar = " [" + strings.Repeat("=", full) + strings.Repeat(" ", cells-full) + "]"
	}
	p.line(fmt.Sprintf("%s%s %s", p.stage, bar, what))
}

// End takes the live line away.
func (p *progress) End() {
	if p.marked {
		fmt.Fprint(p.w, "\r\x1b[K")
		p.marked = false
	}
}

func (p *progress) line(text string) {
	runes := []rune(text)
	if len(runes) >= p.width {
		runes = runes[:p.width-1]
	}
	fmt.Fprintf(p.w, "\r\x1b[K%s", string(runes))
	p.marked = true
}
