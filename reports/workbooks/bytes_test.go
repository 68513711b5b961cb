package workbooks

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"sync"
	"testing"
)

// outputVariable names the file that a fresh process of this test writes the
// sample to.
const outputVariable = "EVENLIMB_TEST_WORKBOOK"

// Maps are walked in another order in every process, so equal bytes are
// proved between processes and not within one.
func TestTwentyFreshProcessesWriteTheSameBytes(t *testing.T) {
	if path := os.Getenv(outputVariable); path != "" {
		if err := os.WriteFile(path, written(t, sample()), 0o600); err != nil { //nolint:gosec // the path comes from the test below
			t.Fatal(err)
		}
		return
	}
	want := written(t, sample())
	settings := [][]string{
		{"TZ=UTC", "LANG=C", "GOMAXPROCS=1"},
		{"TZ=Pacific/Kiritimati", "LANG=de_DE.UTF-8", "LC_ALL=de_DE.UTF-8", "GOMAXPROCS=2"},
		{"TZ=America/St_Johns", "LANG=tr_TR.UTF-8", "GOMAXPROCS=7"},
		{"TZ=Asia/Kathmandu", "LANG=", "GOGC=10"},
	}
	dir := t.TempDir()
	var running sync.WaitGroup
	places := make(chan struct{}, 2)
	for i := range 20 {
		running.Go(func() {
			places <- struct{}{}
			defer func() { <-places }()
			path := filepath.Join(dir, strconv.Itoa(i)+".xlsx")
			cmd := exec.CommandContext(t.Context(), os.Args[0], "-test.run=^"+t.Name()+"$", "-test.count=1") //nolint:gosec // this very test binary
			cmd.Env = append(append(os.Environ(), settings[i%len(settings)]...), outputVariable+"="+path)
			if out, err := cmd.CombinedOutput(); err != nil {
				t.Errorf("process %d: %v\n%s", i, err, out)
				return
			}
			got, err := os.ReadFile(filepath.Clean(path))
			if err != nil {
				t.Error(err)
				return
			}
			if !bytes.Equal(got, want) {
				t.Errorf("process %d (%v) wrote other bytes", i, settings[i%len(settings)])
			}
		})
	}
	running.Wait()
}
