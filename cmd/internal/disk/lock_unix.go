//go:build unix

package disk

import (
	"os"
	"syscall"
)

// LockExclusive takes the system's lock on f, or fails at once.
func LockExclusive(f *os.File) error {
	return syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
}
