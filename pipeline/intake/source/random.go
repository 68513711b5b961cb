package source

import (
	"errors"
	"io"
	"os"
)

// randomFile is a file that can be read at any place. It tells what is wrong
// with the disk from a place that a damaged file names and that is not in it.
type randomFile struct {
	src  io.ReaderAt
	size int64
	err  error // of the disk
}

func (r *randomFile) ReadAt(p []byte, at int64) (int, error) {
	if at < 0 || at > r.size {
		return 0, io.ErrUnexpectedEOF
	}
	n, err := r.src.ReadAt(p, at)
	if err != nil && !errors.Is(err, io.EOF) {
		r.err = err
	}
	return n, err
}

// randomAccess opens a file for reading at any place: as it lies, or unpacked
// into a file that goes when f is closed.
func (f *File) randomAccess(in Input, how string) (*randomFile, error) {
	src, err := in.Open()
	if err != nil {
		return nil, err
	}
	f.closers = append(f.closers, src)
	if there, ok := src.(interface {
		io.ReaderAt
		io.Seeker
	}); ok && how == Plain {
		size, err := there.Seek(0, io.SeekEnd)
		return &randomFile{src: there, size: size}, err
	}
	unpacked, err := unpack(src, how)
	if err != nil {
		return nil, err
	}
	f.closers = append(f.closers, unpacked)
	file, err := os.CreateTemp(in.TempDir, temporary+"*")
	if err != nil {
		return nil, err
	}
	f.closers = append(f.closers, remover{file})
	size, err := io.Copy(file, unpacked)
	return &randomFile{src: file, size: size}, err
}

// remover is an unpacked file that goes when it is closed.
type remover struct{ *os.File }

func (r remover) Close() error { return errors.Join(r.File.Close(), os.Remove(r.Name())) }
