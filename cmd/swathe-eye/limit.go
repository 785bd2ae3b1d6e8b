//go:build cgo && customenv

package main

import (
	"fmt"
	"os"
	"strconv"
	"syscall"

	"swathe/track"
)

// limitMemory holds this process to what its parent asks for, before it opens
// anything that a stranger may have written: beyond it memory is refused, and the
// recording is told as one that could not be read. The limit is on memory that is
// written to; libraries and mapped files do not count.
func limitMemory() error {
	text := os.Getenv(track.EyeMemory)
	if text == "" {
		return nil
	}
	mb, err := strconv.ParseUint(text, 10, 32)
	if err != nil || mb == 0 {
		return fmt.Errorf("%s is %q; it should be a number of megabytes", track.EyeMemory, text)
	}
	limit := syscall.Rlimit{Cur: mb << 20, Max: mb << 20}
	return syscall.Setrlimit(syscall.RLIMIT_DATA, &limit)
}
