package main

import (
	"context"
	"encoding/json"
	"fmt"
	"runtime"

	"evenlimb/cmd/internal/program"
)

func versionCommand() command {
	return command{
		name:  "version",
		about: "which program this is",
		long: `Prints the program's version: its release and a digest of the queries and code
tables built into it. The same version stands in every report's manifest.json.`,
		run: func(_ context.Context, c *call) (exit, error) {
			version := program.Version()
			if c.json {
				return exitDone, json.NewEncoder(c.stdout).Encode(map[string]string{"version": version, "go": runtime.Version()})
			}
			_, err := fmt.Fprintf(c.stdout, "evenlimb %s (%s)\n", version, runtime.Version())
			return exitDone, err
		},
	}
}
