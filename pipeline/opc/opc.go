// Package opc writes workbooks so that equal content gives equal bytes (Open
// Packaging Conventions, ECMA-376 part 2).
package opc

import (
	"archive/zip"
	"bytes"
	"cmp"
	"compress/flate"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"github.com/xuri/excelize/v2"
)

// EntryTime is the earliest time that the zip format holds; every entry has it.
var EntryTime = time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)

// ContentTypes names the entry that every reader expects first.
const ContentTypes = "[Content_Types].xml"

// Write writes the workbook with its entries sorted and dated alike, packed at
// a level of compress/flate. The library goes through maps, so that both the
// order of its entries and that of the children of [Content_Types].xml differ
// from process to process.
func Write(w io.Writer, file *excelize.File, level int) error {
	raw, err := file.WriteToBuffer()
	if err != nil {
		return err
	}
	in, err := zip.NewReader(bytes.NewReader(raw.Bytes()), int64(raw.Len()))
	if err != nil {
		return err
	}
	entries := slices.Clone(in.File)
	slices.SortFunc(entries, func(a, b *zip.File) int {
		// Readers expect the list of types first.
		return cmp.Or(cmp.Compare(order(a.Name), order(b.Name)), cmp.Compare(a.Name, b.Name))
	})
	out := zip.NewWriter(w)
	out.RegisterCompressor(zip.Deflate, func(w io.Writer) (io.WriteCloser, error) { return flate.NewWriter(w, level) })
	for _, e := range entries {
		data, err := readEntry(e)
		if err != nil {
			return fmt.Errorf("repack %s: %w", e.Name, err)
		}
		if e.Name == ContentTypes {
			if data, err = sortChildren(data); err != nil {
				return fmt.Errorf("repack %s: %w", e.Name, err)
			}
		}
		entry, err := out.CreateHeader(&zip.FileHeader{Name: e.Name, Method: zip.Deflate, Modified: EntryTime})
		if err != nil {
			return err
		}
		if _, err := entry.Write(data); err != nil {
			return err
		}
	}
	return out.Close()
}

func order(name string) int {
	if name == ContentTypes {
		return 0
	}
	return 1
}

func readEntry(e *zip.File) ([]byte, error) {
	r, err := e.Open()
	if err != nil {
		return nil, err
	}
	data, err := io.ReadAll(r)
	if closing := r.Close(); err == nil {
		err = closing
	}
	return data, err
}

// sortChildren sorts the elements under the root by their own text.
func sortChildren(data []byte) ([]byte, error) {
	d := xml.NewDecoder(bytes.NewReader(data))
	depth, start := 0, int64(0)
	var head, tail []byte
	var children [][]byte
	for {
		before := d.InputOffset()
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		switch token.(type) {
		case xml.StartElement:
			switch depth {
			case 0:
				head = data[:d.InputOffset()]
			case 1:
				start = before
			}
			depth++
		case xml.EndElement:
			depth--
			switch depth {
			case 0:
				tail = data[before:]
			case 1:
				children = append(children, data[start:d.InputOffset()])
			}
		}
	}
	if head == nil || tail == nil {
		return nil, errors.New("no root element")
	}
	slices.SortFunc(children, bytes.Compare)
	return slices.Concat(head, bytes.Join(children, nil), tail), nil
}
