//go:build unix

package main

import (
	"os/signal"
	"syscall"
)

// A write beyond the limit on a file's size should fail with an error that can
// be told, not end the program.
func init() { signal.Ignore(syscall.SIGXFSZ) }
