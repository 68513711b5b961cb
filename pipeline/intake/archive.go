package intake

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/klauspost/compress/zstd"
)

// The folders of a practice that intake reads and writes.
const (
	inboxFolder      = "inbox"
	archiveFolder    = "archive"
	quarantineFolder = "quarantine"
	indexFile        = "index.ndjson"
)

// errChanging says that a file was written to while it was read.
var errChanging = errors.New("the file is still being written")

// errReading says that it is the file in the inbox that cannot be read.
var errReading = errors.New("the file cannot be read")

// hashFile returns the SHA-256 of a file, in hex, and its length.
func hashFile(ctx context.Context, file io.Reader) (sum string, bytes int64, err error) {
	hash := sha256.New()
	bytes, err = io.Copy(hash, &interruptible{ctx, file})
	return hex.EncodeToString(hash.Sum(nil)), bytes, err
}

// interruptible stops reading when its context ends.
type interruptible struct {
	ctx context.Context // of the copy it is made for
	src io.Reader
}

func (r *interruptible) Read(p []byte) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := r.src.Read(p)
	if err != nil && !errors.Is(err, io.EOF) {
		err = fmt.Errorf("%w: %w", errReading, err)
	}
	return n, err
}

// packed is a file that lies compressed in the archive, not yet under its name.
type packed struct {
	path  string
	sum   string // SHA-256, in hex
	bytes int64  // before it was packed
}

// packFile compresses a file into the archive and hashes it on the way.
func packFile(ctx context.Context, dir string, file io.Reader) (p packed, err error) {
	hash := sha256.New()
	p.path, err = writeNew(filepath.Join(dir, archiveFolder), func(w io.Writer) error {
		packer, err := zstd.NewWriter(w, zstd.WithEncoderLevel(zstd.SpeedFastest), zstd.WithEncoderConcurrency(1))
		if err != nil {
			return err
		}
		p.bytes, err = io.Copy(packer, io.TeeReader(&interruptible{ctx, file}, hash))
		return errors.Join(err, packer.Close())
	})
	p.sum = hex.EncodeToString(hash.Sum(nil))
	return p, err
}

// keep gives a packed file its name.
func (p packed) keep(dir string) error {
	if err := os.Rename(p.path, archivePath(dir, p.sum)); err != nil {
		return fmt.Errorf("archive %s: %w", short(p.sum), err)
	}
	return nil
}

// discard takes a packed file away.
func (p packed) discard() error {
	if p.path == "" {
		return nil
	}
	return os.Remove(p.path)
}

// archived says whether a file lies in the archive.
func archived(dir, sum string) bool {
	_, err := os.Stat(archivePath(dir, sum))
	return err == nil
}

func archivePath(dir, sum string) string {
	return filepath.Join(dir, archiveFolder, sum+".zst")
}

// OpenArchived opens a file that was taken in, by its SHA-256, as it was sent.
func OpenArchived(dir, sum string) (io.ReadCloser, error) {
	file, err := os.Open(archivePath(dir, sum))
	if err != nil {
		return nil, fmt.Errorf("open the archived file %s: %w; put it back from a backup", short(sum), err)
	}
	unpacker, err := zstd.NewReader(bufio.NewReaderSize(file, 1<<20), zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(64<<20))
	if err != nil {
		return nil, errors.Join(fmt.Errorf("open the archived file %s: %w", short(sum), err), file.Close())
	}
	return &unpacked{unpacker, file}, nil
}

type unpacked struct {
	*zstd.Decoder
	file *os.File
}

func (a *unpacked) Close() error {
	a.Decoder.Close()
	return a.file.Close()
}

func short(sum string) string { return sum[:min(12, len(sum))] }

// temporary begins the names of files that are not whole yet.
const temporary = ".new-"

// sweep takes away what a run that was cut off left half written.
func sweep(dir string) error {
	for _, pattern := range []string{filepath.Join(archiveFolder, temporary+"*"), filepath.Join(quarantineFolder, "*", temporary+"*")} {
		left, err := fs.Glob(os.DirFS(dir), filepath.ToSlash(pattern))
		if err != nil {
			return fmt.Errorf("take away what an earlier run left half written: %w", err)
		}
		for _, name := range left {
			if err := os.Remove(filepath.Join(dir, filepath.FromSlash(name))); err != nil {
				return fmt.Errorf("take away what an earlier run left half written: %w", err)
			}
		}
	}
	return nil
}

// writeWhole writes a private file under a temporary name and renames it, so
// that what stands under its name is always whole.
func writeWhole(path string, write func(io.Writer) error) error {
	name, err := writeNew(filepath.Dir(path), write)
	if err != nil {
		return fmt.Errorf("write %s: %w", filepath.Base(path), err)
	}
	return os.Rename(name, path)
}

// writeNew writes a private file under a temporary name in a folder and returns
// the name. When it fails it leaves nothing behind.
func writeNew(folder string, write func(io.Writer) error) (name string, err error) {
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return "", err
	}
	file, err := os.CreateTemp(folder, temporary+"*")
	if err != nil {
		return "", err
	}
	out := bufio.NewWriterSize(file, 1<<18)
	err = write(out)
	if err == nil {
		err = errors.Join(out.Flush(), file.Sync())
	}
	if err = errors.Join(err, file.Close()); err != nil {
		return "", errors.Join(err, os.Remove(file.Name()))
	}
	return file.Name(), nil
}
