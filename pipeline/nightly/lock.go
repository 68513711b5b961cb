package nightly

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"golang.org/x/sys/unix"
)

// ErrBusy reports that another run holds the practice folder.
var ErrBusy = errors.New("another run holds this practice folder")

// Lock is the hold of one run on a practice folder. The system lets go of it
// when the process ends, however it ends.
type Lock struct{ file *os.File }

// Hold takes the practice folder for this process. It fails with ErrBusy while
// another process has it; it never waits.
func Hold(dir string) (*Lock, error) {
	if err := os.MkdirAll(filepath.Join(dir, "log"), 0o700); err != nil {
		return nil, fmt.Errorf("make the log folder: %w", err)
	}
	file, err := os.OpenFile(filepath.Join(dir, "log", "lock"), os.O_CREATE|os.O_RDWR, 0o600) //nolint:gosec // a path of the practice folder, chosen by its owner
	if err != nil {
		return nil, fmt.Errorf("open the lock file: %w", err)
	}
	if err := unix.Flock(int(file.Fd()), unix.LOCK_EX|unix.LOCK_NB); err != nil {
		closing := file.Close()
		if errors.Is(err, unix.EWOULDBLOCK) {
			return nil, fmt.Errorf("%w; wait for it to end, `evenlimb status` shows how far it is", ErrBusy)
		}
		return nil, errors.Join(fmt.Errorf("lock the practice folder: %w", err), closing)
	}
	return &Lock{file: file}, nil
}

// Release lets go of the folder.
func (l *Lock) Release() error { return l.file.Close() }
