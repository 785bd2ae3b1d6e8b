package track

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"sync/atomic"
	"time"
)

// Stall is after how long without a byte a file counts as one that cannot be read:
// a share that has gone away may keep whoever reads waiting for ever.
var Stall = 60 * time.Second

// ErrStalled is what is wrong with a file of which nothing more comes.
var ErrStalled = errors.New("nothing could be read from it for some time")

// HashFile returns the SHA-256 of a file, lower-case hex. Of a file that cannot be
// read any further the error is ErrStalled; what reads it is then left waiting.
func HashFile(file string) (string, error) {
	type outcome struct {
		sum string
		err error
	}
	var count atomic.Int64
	done := make(chan outcome, 1)
	go func() {
		sum, err := hashed(file, &count)
		done <- outcome{sum, err}
	}()
	tick := time.NewTicker(Stall)
	defer tick.Stop()
	for last := int64(0); ; {
		select {
		case o := <-done:
			return o.sum, o.err
		case <-tick.C:
			now := count.Load()
			if now == last {
				return "", fmt.Errorf("%s: %w (%.0f s). Is the disk or the share that it lies on still there?", file, ErrStalled, Stall.Seconds())
			}
			last = now
		}
	}
}

// hashed counts what it has read, plus one once the file is open.
func hashed(file string, count *atomic.Int64) (string, error) {
	f, err := os.Open(file)
	if err != nil {
		return "", err
	}
	defer f.Close()
	count.Add(1)
	h := sha256.New()
	if _, err := io.Copy(h, counted{f, count}); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

type counted struct {
	io.Reader
	count *atomic.Int64
}

func (c counted) Read(b []byte) (int, error) {
	n, err := c.Reader.Read(b)
	c.count.Add(int64(n))
	return n, err
}
