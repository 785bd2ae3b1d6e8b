package work

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"swathe/cmd/internal/lab"
)

// Still tells whether recordings have stood still long enough for their copy to
// count as finished. It is for one goroutine; make it with NewStill.
type Still struct {
	settle time.Duration
	seen   map[string]stillness
}

// stillness is how a file was when last looked at, and since when.
type stillness struct {
	size  int64
	mtime time.Time
	since time.Time
}

// NewStill returns a Still that waits for settle.
func NewStill(settle time.Duration) *Still { return &Still{settle, map[string]stillness{}} }

// Look returns a signature of all that decides whether an item needs work, and
// whether its files have stood still long enough and open.
func (s *Still) Look(l *lab.Lab, item Item) (signature string, ready bool) {
	var b strings.Builder
	now := time.Now()
	ready = true
	for _, f := range item.Files() {
		st, err := os.Stat(f)
		if err != nil {
			fmt.Fprintf(&b, "%s gone;", f)
			delete(s.seen, f)
			continue
		}
		was, known := s.seen[f]
		if !known || was.size != st.Size() || !was.mtime.Equal(st.ModTime()) {
			was = stillness{st.Size(), st.ModTime(), now}
			// A file that nobody has touched for long was not just copied.
			if age := now.Sub(st.ModTime()); !known && age > 10*s.settle && age > 0 {
				was.since = st.ModTime()
			}
			s.seen[f] = was
		}
		if now.Sub(was.since) < s.settle || !opens(f) {
			ready = false
		}
		fmt.Fprintf(&b, "%s %d %d;", f, st.Size(), st.ModTime().UnixNano())
	}
	b.WriteByte(0) // what follows may hold any sign but this
	b.WriteString(item.Signature(l))
	return b.String(), ready
}

// opens tells whether a file can be opened: some systems keep a file locked
// while it is copied.
func opens(file string) bool {
	f, err := os.Open(file)
	if err != nil {
		return false
	}
	f.Close()
	return true
}

// SetupSignature changes whenever lab.yaml, days.yaml or a file of robots/ does.
func SetupSignature(dir string) string {
	var b strings.Builder
	note := func(file string) {
		st, err := os.Stat(file)
		if errors.Is(err, fs.ErrNotExist) {
			return
		} else if err != nil {
			fmt.Fprintf(&b, "%s %v;", file, err)
			return
		}
		fmt.Fprintf(&b, "%s %d %d;", file, st.Size(), st.ModTime().UnixNano())
	}
	note(filepath.Join(dir, lab.SetupFile))
	note(filepath.Join(dir, lab.DaysFile)) // runs inherit from it
	robots, _ := os.ReadDir(filepath.Join(dir, "robots"))
	for _, r := range robots {
		note(filepath.Join(dir, "robots", r.Name()))
	}
	return b.String()
}
