//go:build cgo && customenv && linux

package cv

import (
	"os"
	"path/filepath"
	"runtime/debug"
	"strconv"
	"strings"
	"testing"

	"swathe/track/sight"
)

// resident is the memory that this process holds, MB.
func resident(t *testing.T) float64 {
	t.Helper()
	debug.FreeOSMemory()
	b, err := os.ReadFile("/proc/self/status")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(b), "VmRSS:")
	kb, err := strconv.ParseFloat(strings.Fields(rest)[0], 64)
	if err != nil {
		t.Fatal(err)
	}
	return kb / 1024
}

// Recordings of every container are opened, read, read ahead, searched and closed
// again and again in one process, a thousand times with SWATHE_LONG: what the
// C side holds does not grow.
func TestNativeMemoryStaysFlat(t *testing.T) {
	// MB, from the first fifth to the last: what the allocators keep comes and goes by
	// some; a decoder or a picture lost at every turn would be 60 in the short form.
	const most = 20
	times := 200
	if os.Getenv("SWATHE_LONG") != "" {
		times = 1000
	}
	early := times / 5
	const dir = "../../testdata/odd/recordings/cluttered/siskin_mapped_"
	files := []string{dir + "1.mp4", dir + "2.mov", dir + "3.mkv", dir + "4.avi", dir + "5.webm", dir + "6.mp4", dir + "13.mp4"}
	var then float64
	for n := range times {
		file := files[n%len(files)]
		r, err := Open(file, 1)
		if err != nil {
			t.Fatal(filepath.Base(file), err)
		}
		for k := range 3 {
			f, err := r.Next()
			if err != nil || f == nil {
				t.Fatal(filepath.Base(file), err)
			}
			if k == 0 && n%7 == 0 {
				if _, err := f.Picture(1); err != nil {
					t.Fatal(err)
				}
			}
			f.Free()
		}
		_ = r.Seek(4)
		r.Close()
		if n%10 == 0 {
			l, err := OpenAhead(file, 3, sight.Picker{}, nil)
			if err != nil {
				t.Fatal(err)
			}
			for range 3 {
				if f := l.Next(); f != nil {
					f.Free()
				}
			}
			l.Close()
		}
		if n == early {
			then = resident(t)
		}
	}
	grew := resident(t) - then
	t.Logf("%.1f MB at the end, %.2f more than after %d of %d", then+grew, grew, early, times)
	if grew > most {
		t.Errorf("%.1f MB more, %d are allowed", grew, most)
	}
}
