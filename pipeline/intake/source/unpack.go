package source

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"io"

	"github.com/klauspost/compress/zstd"
)

// Limits of what is unpacked, against files made to fill a disk. Text of
// exports packs to a tenth or a fiftieth, not to a thousandth.
const (
	maxUnpacked = 16 << 30 // bytes of a text
	freeRatio   = 64 << 20 // bytes that may be unpacked whatever the ratio
	maxRatio    = 500
)

var (
	gzipMagic = []byte{0x1f, 0x8b}
	zstdMagic = []byte{0x28, 0xb5, 0x2f, 0xfd}
)

// compression tells by its first bytes how a file is packed.
func compression(head []byte) string {
	switch {
	case bytes.HasPrefix(head, gzipMagic):
		return Gzip
	case bytes.HasPrefix(head, zstdMagic):
		return Zstd
	default:
		return Plain
	}
}

// unpack returns what is packed in src. Closing it leaves src open.
func unpack(src io.Reader, how string) (io.ReadCloser, error) {
	if how == Plain {
		return io.NopCloser(src), nil
	}
	packed := &counter{src: src}
	u := &unpacking{how: how, packed: packed}
	buffered := bufio.NewReaderSize(packed, 256<<10)
	switch how {
	case Gzip:
		r, err := gzip.NewReader(buffered)
		if err != nil {
			return nil, u.words(err)
		}
		u.src = r
	case Zstd:
		r, err := zstd.NewReader(buffered, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(128<<20), zstd.WithDecoderMaxWindow(128<<20))
		if err != nil {
			return nil, u.words(err)
		}
		u.src = r.IOReadCloser()
	}
	return u, nil
}

// unpacking reads a packed file, counts, and puts its errors into words.
type unpacking struct {
	how    string
	src    io.ReadCloser
	packed *counter
	bytes  int64
}

func (u *unpacking) Read(p []byte) (int, error) {
	n, err := u.src.Read(p)
	u.bytes += int64(n)
	if u.bytes > maxUnpacked || (u.bytes > freeRatio && u.bytes/maxRatio > u.packed.bytes) {
		return 0, refuse("unpacks_too_large", "it unpacks to more than a file of exports can hold (%d MB from %d kB); send it in smaller files, or unpacked", u.bytes>>20, u.packed.bytes>>10)
	}
	if err != nil && !errors.Is(err, io.EOF) {
		return 0, u.words(err)
	}
	return n, err
}

func (u *unpacking) Close() error { return u.src.Close() }

// words tells a fault of the packed file from one of the disk under it.
func (u *unpacking) words(err error) error {
	switch {
	case u.packed.err != nil:
		return u.packed.err
	case errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF):
		return refuse(u.how+"_cut_short", "the %s file ends before its end; send it again whole", u.how)
	default:
		return refuse(u.how+"_damaged", "the %s file is damaged and cannot be unpacked; send it again", u.how)
	}
}

// counter counts what is read and keeps the error of the source itself.
type counter struct {
	src   io.Reader
	bytes int64
	err   error
}

func (c *counter) Read(p []byte) (int, error) {
	n, err := c.src.Read(p)
	c.bytes += int64(n)
	if err != nil && !errors.Is(err, io.EOF) {
		c.err = err
	}
	return n, err
}
