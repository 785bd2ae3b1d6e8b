//go:build unix

package lab

import (
	"os"
	"syscall"
)

// lockExclusive takes the system's lock on f, or fails at once.
func lockExclusive(f *os.File) error {
	return syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
}
