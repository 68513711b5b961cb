package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"evenlimb/seeds/practice"
)

// writePractice is `dev practice DIR`: the files of a made-up practice, one
// folder per delivery, so that a night can be played by copying one into inbox/.
func writePractice(_ context.Context, args []string, stdout, stderr io.Writer) int {
	s := practice.Default()
	flags := flag.NewFlagSet("dev practice DIR", flag.ContinueOnError)
	flags.SetOutput(stderr)
	flags.IntVar(&s.Sites, "sites", s.Sites, "sites, 1 to 12")
	flags.IntVar(&s.Episodes, "episodes", s.Episodes, "people with a first episode")
	flags.IntVar(&s.Months, "months", s.Months, "calendar months")
	flags.Uint64Var(&s.Seed, "seed", s.Seed, "seed of all draws")
	flags.BoolVar(&s.Clean, "clean", s.Clean, "without the planted mess")
	flags.BoolVar(&s.OwnFormats, "own-formats", s.OwnFormats, "every site sends what its system writes")
	if len(args) == 0 || args[0] == "" || args[0][0] == '-' {
		flags.Usage()
		return 64
	}
	dir := args[0]
	if flags.Parse(args[1:]) != nil {
		return 64
	}
	began := time.Now()
	p, err := practice.Draw(s)
	if err != nil {
		fmt.Fprintln(stderr, "dev practice:", err)
		return 64
	}
	files, bytes, err := writeDeliveries(dir, p)
	if err != nil {
		fmt.Fprintln(stderr, "dev practice:", err)
		return 1
	}
	fmt.Fprintf(stdout, "%d files, %d MB, in %.1f s under %s\n", files, bytes>>20, time.Since(began).Seconds(), dir)
	return 0
}

func writeDeliveries(dir string, p *practice.Practice) (files, bytes int, err error) {
	if err := put(filepath.Join(dir, "practice.toml"), p.Settings()); err != nil {
		return 0, 0, err
	}
	for _, l := range p.Layouts() {
		if err := put(filepath.Join(dir, "layouts", l.Name), l.Data); err != nil {
			return 0, 0, err
		}
	}
	for _, d := range p.Deliveries() {
		night := filepath.Join(dir, "deliveries", d.ReceivedOn.Format(time.DateOnly))
		for _, f := range d.Files {
			if err := put(filepath.Join(night, f.Sender, f.Name), f.Data); err != nil {
				return files, bytes, err
			}
			files++
			bytes += len(f.Data)
		}
	}
	return files, bytes, nil
}

func put(path string, data []byte) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	return os.WriteFile(path, data, 0o600)
}
