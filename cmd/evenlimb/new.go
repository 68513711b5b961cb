package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"

	"evenlimb/cmd/internal/folder"
	"evenlimb/pipeline/settings"
)

func newCommand() command {
	return command{
		name:  "new",
		args:  "DIR",
		about: "writes a starter practice folder",
		long: `Makes the folder DIR for a practice: practice.toml, in which every setting stands
with what it means, and an inbox with a folder for the first sender. DIR must not
hold anything yet. Open practice.toml, name the practice and its sites, drop the
sites' files into inbox/SENDER/ and run evenlimb nightly.`,
		run: runNew,
	}
}

func runNew(_ context.Context, c *call) (exit, error) {
	dir := folder.Dir(c.args[0])
	if err := emptyFolder(string(dir)); err != nil {
		return exitUsage, err
	}
	starter := settings.Starter()
	practice, err := settings.Parse(starter, settings.PracticeFile)
	if err != nil {
		return exitFailed, fmt.Errorf("the starter settings do not fit this program: %w", err)
	}
	if err := folder.WriteFile(dir.Settings(), starter); err != nil {
		return exitFailed, err
	}
	for _, sender := range practice.Senders() {
		if err := os.MkdirAll(dir.InboxOf(sender), folder.FolderMode); err != nil {
			return exitFailed, fmt.Errorf("make the inbox: %w", err)
		}
	}
	if c.json {
		return exitDone, json.NewEncoder(c.stdout).Encode(map[string]string{"practice": string(dir), "settings": dir.Settings()})
	}
	_, err = fmt.Fprintf(c.stdout, "Made %s. Next: open %s, name the practice and its sites, drop their files into %s, then run\n  evenlimb nightly --practice %s\n",
		dir, dir.Settings(), dir.InboxOf("SENDER"), dir)
	return exitDone, err
}

// emptyFolder refuses a folder that holds something already.
func emptyFolder(dir string) error {
	entries, err := os.ReadDir(dir)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil
	case err != nil:
		return &usageError{fmt.Sprintf("%s cannot be used: %v; name a folder that does not exist yet", dir, err)}
	case len(entries) > 0:
		return &usageError{fmt.Sprintf("%s holds something already; name a folder that is empty or does not exist yet", dir)}
	}
	return nil
}
