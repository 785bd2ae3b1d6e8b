//go:build cgo && customenv

package main

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"swathe/track"
	"swathe/track/cv"
	"swathe/track/sight"
)

// keepEvery is how much work, at most, a look that is stopped loses, beside learning
// the room, which takes some seconds again.
const keepEvery = 6 * time.Second

// unfinished is a folder in which a look keeps what it has said and how far it is,
// so that one that was stopped, however hard, goes on from there: `said`, the lines
// of its answer, and `state`, which is replaced whole. What is short is never kept.
type unfinished struct {
	dir   string
	every time.Duration
	next  time.Time
	early bytes.Buffer // what was said before the folder was made
	said  *os.File     // nil: not made yet
	size  int64        // of what was said
	key   string       // of the work
	asked track.Request
}

// far says how far a look was; it is the first line of `state`, before that of the Watcher.
type far struct {
	Files  []string      `json:"files"`
	Key    string        `json:"key"` // of the program, the request and the recordings
	Said   int64         `json:"said"`
	Part   int           `json:"part"`
	At     cv.Place      `json:"at"`     // the last look, in its part
	Offset float64       `json:"offset"` // s, of the part in the run
	Frames int           `json:"frames"` // of the parts before
	Bad    int           `json:"bad"`    // left out so far
	Stages []track.Stage `json:"stages"`
}

func newUnfinished(q track.Request) *unfinished {
	if q.Unfinished == "" || q.Debug != nil || q.Threads < 2 {
		return nil
	}
	u := &unfinished{dir: q.Unfinished, every: keepEvery, asked: q}
	if q.KeepEvery > 0 {
		u.every = time.Duration(q.KeepEvery * float64(time.Second))
	}
	u.next = time.Now().Add(u.every)
	return u
}

// there tells whether something was kept.
func (u *unfinished) there() bool {
	if u == nil || u.dir == "" {
		return false
	}
	_, err := os.Stat(u.state())
	return err == nil
}

func (u *unfinished) state() string { return filepath.Join(u.dir, "state") }

// work names what is looked at, by which program: a state of any other is of no use.
func (u *unfinished) work() (string, error) {
	if u.key != "" {
		return u.key, nil
	}
	h := sha256.New()
	self, err := os.Executable()
	if err != nil {
		return "", err
	}
	f, err := os.Open(self)
	if err != nil {
		return "", err
	}
	defer f.Close()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	asked := u.asked
	asked.Unfinished, asked.KeepEvery = "", 0
	if err := json.NewEncoder(h).Encode(asked); err != nil {
		return "", err
	}
	files := asked.Files
	if asked.Reference != "" {
		files = append(files[:len(files):len(files)], asked.Reference)
	}
	for _, name := range files {
		st, err := os.Stat(name)
		if err != nil {
			return "", err
		}
		fmt.Fprintln(h, st.Size(), st.ModTime().UnixNano())
	}
	u.key = fmt.Sprintf("%x", h.Sum(nil))
	return u.key, nil
}

// Write takes in a line of the answer; it never fails, as the answer itself goes on
// without being kept.
func (u *unfinished) Write(line []byte) (int, error) {
	switch {
	case u.dir == "" || bytes.HasPrefix(line, []byte(`{"doing"`)):
	case u.said == nil:
		u.early.Write(line)
	default:
		n, err := u.said.Write(line)
		u.size += int64(n)
		if err != nil {
			u.drop()
		}
	}
	return len(line), nil
}

// drop gives up keeping, as on a full disk.
func (u *unfinished) drop() {
	if u == nil || u.dir == "" {
		return
	}
	if u.said != nil {
		u.said.Close()
		u.said = nil
	}
	os.RemoveAll(u.dir)
	u.dir = ""
	u.early = bytes.Buffer{}
}

// keep writes down how far a look is, if it is time to.
func (u *unfinished) keep(at far, w *sight.Watcher) {
	if u == nil || u.dir == "" || time.Now().Before(u.next) {
		return
	}
	if err := u.write(at, w); err != nil {
		u.drop()
	}
	u.next = time.Now().Add(u.every)
}

func (u *unfinished) write(at far, w *sight.Watcher) (err error) {
	if u.said == nil {
		if err := os.MkdirAll(u.dir, 0o755); err != nil {
			return err
		}
		if u.said, err = os.Create(filepath.Join(u.dir, "said")); err != nil {
			return err
		}
		n, err := u.early.WriteTo(u.said)
		if u.size = n; err != nil {
			return err
		}
	}
	at.Files, at.Said = u.asked.Files, u.size
	if at.Key, err = u.work(); err != nil {
		return err
	}
	f, err := os.Create(u.state() + ".new")
	if err != nil {
		return err
	}
	defer f.Close()
	b := bufio.NewWriter(f)
	if err := errors.Join(json.NewEncoder(b).Encode(at), w.Save(b), b.Flush(), f.Close()); err != nil {
		return err
	}
	return os.Rename(u.state()+".new", u.state())
}

// resume puts the state of a look that was stopped into w and hands on what it had
// said. Where there is none that fits, or it is damaged, it returns nil, and w may
// be of no more use.
func (u *unfinished) resume(w *sight.Watcher, answer io.Writer) *far {
	if u == nil {
		return nil
	}
	f, err := os.Open(u.state())
	if err != nil {
		return nil
	}
	defer f.Close()
	b := bufio.NewReader(f)
	line, err := b.ReadBytes('\n')
	var at far
	if err != nil || json.Unmarshal(line, &at) != nil {
		return nil
	}
	if key, err := u.work(); err != nil || key != at.Key {
		return nil
	}
	said, err := os.OpenFile(filepath.Join(u.dir, "said"), os.O_RDWR, 0)
	if err != nil {
		return nil
	}
	st, err := said.Stat()
	if err != nil || st.Size() < at.Said || said.Truncate(at.Said) != nil || w.Load(b) != nil {
		said.Close()
		return nil
	}
	if n, err := io.Copy(answer, said); err != nil || n != at.Said {
		said.Close()
		return nil
	}
	u.said, u.size = said, at.Said
	u.early = bytes.Buffer{}
	return &at
}
