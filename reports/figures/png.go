package figures

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"image"
)

// writePNG packs an opaque picture as eight-bit truecolour PNG (ISO/IEC 15948).
// The standard library tries every filter on every line of it; plots are mostly
// paper in few inks, where no filter packs as well as any other and takes a third
// of the time.
func writePNG(picture *image.RGBA) ([]byte, error) {
	if !picture.Opaque() {
		return nil, errors.New("a picture with holes in its paper cannot be written")
	}
	size := picture.Bounds().Size()
	header := binary.BigEndian.AppendUint32(nil, uint32(size.X))   //nolint:gosec // pixels of a page
	header = binary.BigEndian.AppendUint32(header, uint32(size.Y)) //nolint:gosec // pixels of a page
	header = append(header, 8, 2, 0, 0, 0)                         // bits, truecolour, then the only methods there are, not interlaced

	lines, err := packLines(picture, size)
	if err != nil {
		return nil, err
	}
	out := []byte("\x89PNG\r\n\x1a\n")
	out = appendChunk(out, "IHDR", header)
	out = appendChunk(out, "IDAT", lines)
	return appendChunk(out, "IEND", nil), nil
}

// packLines compresses the lines, each after a byte that says that it is not
// filtered.
func packLines(picture *image.RGBA, size image.Point) ([]byte, error) {
	var packed bytes.Buffer
	w, err := zlib.NewWriterLevel(&packed, zlib.BestSpeed)
	if err != nil {
		return nil, err
	}
	line := make([]byte, 1+3*size.X)
	for y := range size.Y {
		from := picture.Pix[y*picture.Stride:]
		for x := range size.X {
			copy(line[1+3*x:], from[4*x:4*x+3])
		}
		if _, err := w.Write(line); err != nil {
			return nil, err
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return packed.Bytes(), nil
}

// appendChunk appends a part of a PNG file: length, kind, data, checksum.
func appendChunk(out []byte, kind string, data []byte) []byte {
	out = binary.BigEndian.AppendUint32(out, uint32(len(data))) //nolint:gosec // far below 4 GiB
	from := len(out)
	out = append(append(out, kind...), data...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[from:]))
}
