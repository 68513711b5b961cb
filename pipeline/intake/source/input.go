package source

import (
	"errors"
	"io"
)

// Input is a file as it was sent.
type Input struct {
	// Open opens the file at its first byte. It may be called more than once.
	// What it returns is read in place when it is an io.ReaderAt.
	Open func() (io.ReadCloser, error)
	// TempDir is where a file is unpacked that cannot be read from front to back.
	TempDir string
}

// temporary begins the names of files that are unpacked for a while. Intake
// takes away what a run that was cut off left.
const temporary = ".new-"

// Sheet is one table of a file. Every format but XLSX has one.
type Sheet struct {
	Name    string // empty where the format has no sheets
	Ordinal int    // its place in the workbook, from 1
	Reader
}

// File is a file open for reading. Its sheets are read one after the other.
type File struct {
	Sheets  []Sheet
	closers []io.Closer
}

// Close closes the file and takes away what was unpacked for it.
func (f *File) Close() error {
	var errs []error
	for i := len(f.closers) - 1; i >= 0; i-- {
		errs = append(errs, f.closers[i].Close())
	}
	f.closers = nil
	return errors.Join(errs...)
}

// Open opens a file to be read by its form. The error is a *Refusal when the
// file itself is at fault.
func Open(in Input, form Form) (*File, error) {
	form = form.filled()
	f := &File{}
	var err error
	switch form.Format {
	case CSV, NDJSON:
		err = f.openText(in, form)
	case XLSX:
		err = f.openXLSX(in, form)
	case Parquet:
		err = f.openParquet(in, form)
	default:
		err = refuse("unknown_format", "files of the format %s are not read", form.Format)
	}
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f, nil
}

// openText opens a text, unpacked and in UTF-8.
func (f *File) openText(in Input, form Form) error {
	file, err := in.Open()
	if err != nil {
		return err
	}
	f.closers = append(f.closers, file)
	unpacked, err := unpack(file, form.Compression)
	if err != nil {
		return err
	}
	f.closers = append(f.closers, unpacked)
	var r Reader
	if text := decoded(unpacked, form.Encoding); form.Format == NDJSON {
		r = newNDJSON(text, form)
	} else {
		r = newCSV(text, form)
	}
	f.Sheets = []Sheet{{Ordinal: 1, Reader: r}}
	return nil
}
