package lab

import (
	"encoding/binary"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// created is when a recording was begun by its own word: creation_time of the movie
// header box (ISO/IEC 14496-12, 8.2.2), which mp4 and mov have. The standard says UTC;
// many a camera writes its own clock. ok is false where the file does not say, or
// says nonsense.
func created(file string) (t time.Time, ok bool) {
	switch strings.ToLower(filepath.Ext(file)) {
	case ".mp4", ".mov", ".m4v":
	default:
		return t, false
	}
	f, err := os.Open(file)
	if err != nil {
		return t, false
	}
	defer f.Close()
	at, end, ok := box(f, 0, 1<<62, "moov")
	if !ok {
		return t, false
	}
	if at, end, ok = box(f, at, end, "mvhd"); !ok || end-at < 12 {
		return t, false
	}
	var b [12]byte
	if _, err := f.ReadAt(b[:], at); err != nil {
		return t, false
	}
	seconds := uint64(binary.BigEndian.Uint32(b[4:]))
	if b[0] == 1 { // version 1 has 64 bits
		seconds = binary.BigEndian.Uint64(b[4:])
	}
	const day = 24 * 3600
	epoch := time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
	// 0 is "not set"; a clock that was never set begins in 1970, 1980 or 2000.
	if seconds < 97*365*day || seconds > 250*365*day {
		return t, false
	}
	return epoch.Add(time.Duration(seconds) * time.Second), true
}

// mostBoxes bounds how many boxes of a file are passed over.
const mostBoxes = 10000

// box finds the box of a name between two places of a file and returns where its
// content lies.
func box(r io.ReaderAt, at, end int64, name string) (from, to int64, ok bool) {
	for range mostBoxes {
		var b [16]byte
		if at+8 > end {
			return 0, 0, false
		}
		if n, err := r.ReadAt(b[:], at); n < 8 || err != nil && err != io.EOF {
			return 0, 0, false
		}
		size, head := int64(binary.BigEndian.Uint32(b[:])), int64(8)
		switch size {
		case 0: // to the end of the file
			size = end - at
		case 1:
			size, head = int64(binary.BigEndian.Uint64(b[8:])), 16
		}
		if size < head || size > end-at {
			return 0, 0, false
		}
		if string(b[4:8]) == name {
			return at + head, at + size, true
		}
		at += size
	}
	return 0, 0, false
}
