package main

import (
	"context"
	"errors"

	"evenlimb/pipeline/intake"
	"evenlimb/pipeline/nightly"
	"evenlimb/pipeline/settings"
	"evenlimb/pipeline/warehouse"
)

// exit is how a run ended, as the number that the shell gets.
type exit int

// The exit codes. They are fixed: schedulers rely on them.
const (
	exitDone        exit = 0
	exitFailed      exit = 1
	exitAttention   exit = 3
	exitStopped     exit = 4
	exitPractice    exit = 10
	exitBusy        exit = 11
	exitUsage       exit = 64
	exitInterrupted exit = 130
)

// exitTable is what help prints and the tests hold the program to.
var exitTable = []struct {
	code    exit
	name    string
	meaning string
}{
	{exitDone, "done", "everything was done"},
	{exitFailed, "failed", "the run failed; warehouse and reports are as they were, what was taken in stays taken in"},
	{exitAttention, "done, attention", "everything was done, and something new since the last run needs a person"},
	{exitStopped, "stopped", "a check stopped the run; yesterday's results are kept"},
	{exitPractice, "practice", "the practice folder is missing or one of its settings files is wrong"},
	{exitBusy, "busy", "another run holds the practice folder"},
	{exitUsage, "usage", "the command line is wrong, or names a figure, cohort or month that is not there"},
	{exitInterrupted, "interrupted", "the run was interrupted; run it again and it goes on"},
}

func (e exit) String() string {
	for _, row := range exitTable {
		if row.code == e {
			return row.name
		}
	}
	return "unknown"
}

// usageError is a command line that cannot be followed.
type usageError struct{ text string }

func (e *usageError) Error() string { return e.text }

// practiceError is a practice folder that cannot be used.
type practiceError struct{ err error }

func (e *practiceError) Error() string { return e.err.Error() }
func (e *practiceError) Unwrap() error { return e.err }

// exitOf gives the exit code of an error.
func exitOf(err error) exit {
	var usage *usageError
	var practice *practiceError
	var problems *settings.Problems
	var stop *nightly.StoppedError
	var unknown *intake.UnknownError
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, context.Canceled):
		return exitInterrupted
	case errors.As(err, &usage), errors.As(err, &unknown):
		return exitUsage
	case errors.As(err, &problems), errors.As(err, &practice):
		return exitPractice
	case errors.Is(err, nightly.ErrBusy), errors.Is(err, warehouse.ErrBusy):
		return exitBusy
	case errors.As(err, &stop):
		return exitStopped
	default:
		return exitFailed
	}
}
