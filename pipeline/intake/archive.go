package intake

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/klauspost/compress/zstd"

	"evenlimb/pipeline/warehouse"
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
	return r.src.Read(p)
}

// archiveFile puts a file into the archive, compressed, under its SHA-256. It
// fails with errChanging when the bytes are not those that were hashed.
func archiveFile(ctx context.Context, dir string, file io.Reader, sum string) (err error) {
	path := archivePath(dir, sum)
	if _, err := os.Stat(path); err == nil {
		return nil
	}
	return writeWhole(path, func(w io.Writer) error {
		packer, err := zstd.NewWriter(w, zstd.WithEncoderLevel(zstd.SpeedFastest), zstd.WithEncoderConcurrency(1))
		if err != nil {
			return err
		}
		hash := sha256.New()
		if _, err := io.Copy(packer, io.TeeReader(&interruptible{ctx, file}, hash)); err != nil {
			return errors.Join(err, packer.Close())
		}
		if err := packer.Close(); err != nil {
			return err
		}
		if hex.EncodeToString(hash.Sum(nil)) != sum {
			return errChanging
		}
		return nil
	})
}

func archivePath(dir, sum string) string {
	return filepath.Join(dir, archiveFolder, sum+".zst")
}

// OpenArchived opens a file that was taken in, by its SHA-256, as it was sent.
func OpenArchived(dir, sum string) (io.ReadCloser, error) {
	file, err := os.Open(archivePath(dir, sum))
	if err != nil {
		return nil, fmt.Errorf("open the archived file %s: %w", short(sum), err)
	}
	unpacker, err := zstd.NewReader(bufio.NewReaderSize(file, 1<<20), zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(64<<20))
	if err != nil {
		return nil, errors.Join(fmt.Errorf("open the archived file %s: %w", short(sum), err), file.Close())
	}
	return &archived{unpacker, file}, nil
}

type archived struct {
	*zstd.Decoder
	file *os.File
}

func (a *archived) Close() error {
	a.Decoder.Close()
	return a.file.Close()
}

func short(sum string) string { return sum[:min(12, len(sum))] }

// indexLine is one line of archive/index.ndjson: what a person, or a rebuild
// without the landing store, needs to know about an archived file.
type indexLine struct {
	SHA256   string `json:"sha256"`
	Sender   string `json:"sender"`
	Path     string `json:"path"`
	Batch    int    `json:"batch"`
	Received string `json:"received_on"`
	Bytes    int64  `json:"bytes"`
	Layout   string `json:"layout"`
	Program  string `json:"program"`
}

// indexBatch adds the files of a batch to the index of the archive, those that
// are not there yet. What stands in it stays, but for a line cut off at its end.
func indexBatch(dir string, b warehouse.Batch, plan []warehouse.Planned) error {
	path := filepath.Join(dir, archiveFolder, indexFile)
	old, err := os.ReadFile(path) //nolint:gosec // a path of the practice folder, chosen by its owner
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("read the index of the archive: %w", err)
	}
	old = old[:bytes.LastIndexByte(old, '\n')+1]
	there := map[indexLine]bool{}
	for line := range bytes.Lines(old) {
		var one indexLine
		if json.Unmarshal(line, &one) == nil {
			there[one] = true
		}
	}
	var added bytes.Buffer
	for _, p := range plan {
		one := indexLine{SHA256: p.SHA256, Sender: p.Sender, Path: p.Path, Batch: b.Number, Received: b.ReceivedOn.Format(time.DateOnly), Bytes: p.Bytes, Layout: "canonical", Program: b.Program}
		if there[one] {
			continue
		}
		line, err := json.Marshal(one)
		if err != nil {
			return fmt.Errorf("write the index of the archive: %w", err)
		}
		added.Write(append(line, '\n'))
	}
	if added.Len() == 0 {
		return nil
	}
	return writeWhole(path, func(w io.Writer) error {
		_, err := w.Write(append(old, added.Bytes()...))
		return err
	})
}

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
func writeWhole(path string, write func(io.Writer) error) (err error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return fmt.Errorf("write %s: %w", filepath.Base(path), err)
	}
	file, err := os.CreateTemp(filepath.Dir(path), temporary+"*")
	if err != nil {
		return fmt.Errorf("write %s: %w", filepath.Base(path), err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(fmt.Errorf("write %s: %w", filepath.Base(path), err), os.Remove(file.Name()))
		}
	}()
	out := bufio.NewWriterSize(file, 1<<18)
	if err := write(out); err != nil {
		return errors.Join(err, file.Close())
	}
	if err := errors.Join(out.Flush(), file.Sync(), file.Close()); err != nil {
		return err
	}
	return os.Rename(file.Name(), path)
}
