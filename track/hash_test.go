//go:build unix

package track

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// Of a file whose share has gone away nothing more comes; whoever wants its hash is
// told so. A pipe stands in for it: one that nobody opens to write, and one into which
// somebody wrote something and then no more.
func TestHashOfAFileThatStalls(t *testing.T) {
	defer func(s time.Duration) { Stall = s }(Stall)
	Stall = 300 * time.Millisecond
	dir := t.TempDir()
	for _, c := range []string{"nothing", "something"} {
		file := filepath.Join(dir, c)
		if err := syscall.Mkfifo(file, 0o600); err != nil {
			t.Fatal(err)
		}
		if c == "something" {
			w, err := os.OpenFile(file, os.O_RDWR, 0)
			if err != nil {
				t.Fatal(err)
			}
			defer w.Close()
			if _, err := w.Write(make([]byte, 1000)); err != nil {
				t.Fatal(err)
			}
		}
		_, err := HashFile(file)
		if !errors.Is(err, ErrStalled) || !strings.Contains(err.Error(), file) {
			t.Errorf("%s: have %v", c, err)
		}
	}
	// A slow one is waited for.
	slow := filepath.Join(dir, "slow")
	if err := syscall.Mkfifo(slow, 0o600); err != nil {
		t.Fatal(err)
	}
	go func() {
		w, err := os.OpenFile(slow, os.O_WRONLY, 0)
		if err != nil {
			return
		}
		defer w.Close()
		for range 12 {
			_, _ = w.Write([]byte("x"))
			time.Sleep(Stall / 3)
		}
	}()
	sum, err := HashFile(slow)
	if err != nil || len(sum) != 64 {
		t.Errorf("have %q, %v", sum, err)
	}
}
