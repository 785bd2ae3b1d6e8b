package lab

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"swathe/cmd/internal/disk"
)

// lockFile stands in results/ while somebody measures.
const lockFile = ".lock"

// Lock takes the lab for measuring, so that two programs do not write the same
// results, and makes the results folder. Call release when done. The lock is
// the system's own lock on the file, which ends with the process that holds it
// however it ends: a file left behind by a crash locks nothing.
func (l *Lab) Lock() (release func(), err error) {
	if err := os.MkdirAll(l.ResultsDir(), 0o755); err != nil {
		return nil, disk.Explain("results", err)
	}
	file := filepath.Join(l.ResultsDir(), lockFile)
	f, err := os.OpenFile(file, os.O_CREATE|os.O_RDWR, 0o644)
	if err != nil {
		return nil, disk.Explain("results", err)
	}
	if err := disk.LockExclusive(f); err != nil {
		who, _ := os.ReadFile(file)
		f.Close()
		by := strings.TrimSpace(string(who))
		if by == "" {
			by = "another program"
		}
		return nil, fmt.Errorf("the lab is being measured by %s. Wait until it has finished, or stop it, and try again", by)
	}
	host, _ := os.Hostname()
	if err := f.Truncate(0); err == nil {
		// Who holds it is told to others; failing to say so breaks nothing.
		_, _ = f.WriteAt(fmt.Appendf(nil, "process %d on %s since %s\n", os.Getpid(), host, time.Now().Format("2006-01-02 15:04:05")), 0)
	}
	return func() {
		_ = f.Truncate(0)
		f.Close()
	}, nil
}
