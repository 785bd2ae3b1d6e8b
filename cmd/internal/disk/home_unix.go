//go:build unix

package disk

import (
	"errors"
	"syscall"
)

// Alive tells whether a process of this Home lives.
func Alive(pid int) bool {
	err := syscall.Kill(pid, 0)
	return err == nil || !errors.Is(err, syscall.ESRCH)
}
