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
		return nil, fmt.Errorf("open the archived file %s: %w", short(sum), err)
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
