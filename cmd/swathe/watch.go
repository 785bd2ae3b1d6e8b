package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/fsnotify/fsnotify"
	"github.com/spf13/pflag"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
)

var watchVerb = verb{
	name:  "watch",
	args:  "LAB",
	brief: "measure, and go on as recordings are dropped in",
	about: `Does what measure does, then waits: a recording that is copied into
LAB/recordings/<layout> is measured as soon as its copy has finished, which is
when its size and time have stood still for a few seconds and it opens. One
after the other, until stopped with Ctrl-C.

The folders are also looked through every few seconds, so that a network folder
whose system gives no notice of changes works too. A change of lab.yaml is taken
in at once; while it is wrong, swathe says why and waits.

With --json the document comes at the end, when stopped.`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		var o measureOptions
		o.addFlags(fs)
		settle := fs.Duration("settle", 3*time.Second, "how long a recording must stand still before its copy counts as finished")
		poll := fs.Duration("poll", 5*time.Second, "how often the folders are looked through when no change is noticed")
		return func(c *call) (any, error) {
			if len(c.args) != 1 {
				return nil, usage("watch needs the lab's folder and nothing else")
			}
			if *settle < 0 || *poll < 10*time.Millisecond {
				return nil, usage("--settle should be 0 or more and --poll at least 10ms")
			}
			l, opt, err := o.open(c, c.args[0])
			if err != nil {
				return nil, err
			}
			release, err := l.Lock()
			if err != nil {
				return nil, err
			}
			defer release()
			if err := l.Tidy(); err != nil {
				return nil, err
			}
			if err := os.MkdirAll(l.RecordingsDir(), 0o755); err != nil {
				return nil, err
			}
			w := &watching{call: c, options: o, lab: l, opt: opt, settle: *settle, poll: *poll,
				still: map[string]stillness{}, handled: map[string]string{}, outcomes: map[string]work.Outcome{}}
			w.loop(notices(c, l))
			return w.close()
		}
	},
}

// stillness is how a file was when last looked at, and since when.
type stillness struct {
	size  int64
	mtime time.Time
	since time.Time
}

// watching is the state of one watch.
type watching struct {
	call         *call
	options      measureOptions
	lab          *lab.Lab
	opt          work.Options
	settle, poll time.Duration
	setup        string // signature of lab.yaml and robots/ as last read
	wrong        bool   // the set-up cannot be read at present
	still        map[string]stillness
	handled      map[string]string // by run: signature under which it was last dealt with
	order        []string
	outcomes     map[string]work.Outcome
	said         string // last complaint about the folders, not to repeat it
}

// notices returns a channel that receives something when files change; nil if
// the system gives no such notices, which costs only the wait for the next poll.
func notices(c *call, l *lab.Lab) <-chan fsnotify.Event {
	w, err := fsnotify.NewWatcher()
	if err != nil {
		c.say("The system gives no notice of changes (%v); the folders are looked through instead.", err)
		return nil
	}
	out := make(chan fsnotify.Event, 1)
	add := func(dir string) { _ = w.Add(dir) } // a folder that cannot be watched is polled
	add(l.Dir)
	add(filepath.Join(l.Dir, "robots"))
	add(l.RecordingsDir())
	dirs, _ := os.ReadDir(l.RecordingsDir())
	for _, d := range dirs {
		add(filepath.Join(l.RecordingsDir(), d.Name()))
	}
	go func() {
		defer w.Close()
		for {
			select {
			case <-c.ctx.Done():
				return
			case e := <-w.Events:
				if e.Has(fsnotify.Create) {
					if st, err := os.Stat(e.Name); err == nil && st.IsDir() {
						add(e.Name)
					}
				}
				select {
				case out <- e:
				default: // one is waiting to be seen already
				}
			case <-w.Errors: // such as an overflow: the next poll sees what it lost
			}
		}
	}()
	return out
}

// loop works and waits until the call is stopped.
func (w *watching) loop(changed <-chan fsnotify.Event) {
	w.setup = w.setupSignature()
	for first := true; w.call.ctx.Err() == nil; first = false {
		waiting := w.round(first)
		pause := w.poll
		if waiting {
			pause = min(pause, max(w.settle/4, 20*time.Millisecond))
		}
		timer := time.NewTimer(pause)
		select {
		case <-w.call.ctx.Done():
		case <-timer.C:
		case <-changed:
			// A copy makes hundreds of notices a second; looking once in a
			// while is enough.
			settleDown := time.NewTimer(min(pause, 200*time.Millisecond))
			select {
			case <-w.call.ctx.Done():
			case <-settleDown.C:
			}
			settleDown.Stop()
		}
		timer.Stop()
	}
}

// round looks through the folders once and measures what is ready, one after the
// other; it tells whether something is still being copied.
func (w *watching) round(first bool) (waiting bool) {
	if !w.current() {
		return false
	}
	items, err := work.List(w.lab, nil)
	if err != nil {
		if err.Error() != w.said {
			w.call.say("swathe: %v", err)
			w.said = err.Error()
		}
		return false
	}
	w.said = ""
	for _, item := range items {
		if w.call.ctx.Err() != nil {
			return false
		}
		sig, ready := w.look(item)
		if sig == w.handled[item.ID()] {
			continue
		}
		if !ready {
			waiting = true
			continue
		}
		b := newBar(w.call.err, 1)
		outcomes := work.All(w.call.ctx, w.lab, []work.Item{item}, w.opt, watcher(w.call, b, first))
		b.close()
		for _, o := range outcomes {
			if o.Kind == work.Stopped {
				continue
			}
			if _, seen := w.outcomes[o.Run]; !seen {
				w.order = append(w.order, o.Run)
			}
			w.outcomes[o.Run] = o
		}
		// The result is part of the signature, so it is taken once more.
		w.handled[item.ID()], _ = w.look(item)
	}
	if first && w.call.ctx.Err() == nil {
		w.call.say("Watching %s; stop with Ctrl-C.", w.lab.Rel(w.lab.RecordingsDir()))
	}
	return waiting
}

// look returns a signature of all that decides whether an item needs work, and
// whether its files have stood still long enough and open.
func (w *watching) look(item work.Item) (signature string, ready bool) {
	var b strings.Builder
	now := time.Now()
	ready = true
	for _, f := range item.Files() {
		st, err := os.Stat(f)
		if err != nil {
			fmt.Fprintf(&b, "%s gone;", f)
			delete(w.still, f)
			continue
		}
		s, known := w.still[f]
		if !known || s.size != st.Size() || !s.mtime.Equal(st.ModTime()) {
			s = stillness{st.Size(), st.ModTime(), now}
			// A file that nobody has touched for long was not just copied.
			if age := now.Sub(st.ModTime()); !known && age > 10*w.settle && age > 0 {
				s.since = st.ModTime()
			}
			w.still[f] = s
		}
		if now.Sub(s.since) < w.settle || !opens(f) {
			ready = false
		}
		fmt.Fprintf(&b, "%s %d %d;", f, st.Size(), st.ModTime().UnixNano())
	}
	b.WriteString(item.Signature(w.lab))
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

// current reads the set-up anew if it changed; false while it is wrong.
func (w *watching) current() bool {
	sig := w.setupSignature()
	if sig == w.setup {
		return !w.wrong
	}
	w.setup = sig
	l, opt, err := w.options.open(w.call, w.lab.Dir)
	if err != nil {
		w.wrong = true
		w.call.say("swathe: the set-up changed and is wrong now; waiting until it is mended:\n%v", err)
		return false
	}
	w.lab, w.opt, w.wrong = l, opt, false
	w.call.say("The set-up changed and was read anew.")
	return true
}

func (w *watching) setupSignature() string {
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
	note(filepath.Join(w.lab.Dir, lab.SetupFile))
	robots, _ := os.ReadDir(filepath.Join(w.lab.Dir, "robots"))
	for _, r := range robots {
		note(filepath.Join(w.lab.Dir, "robots", r.Name()))
	}
	return b.String()
}

// close tells what came of it all. Being stopped is how a watch ends, so it is
// no failure.
func (w *watching) close() (any, error) {
	var all []work.Outcome
	for _, id := range w.order {
		all = append(all, w.outcomes[id])
	}
	doc, err := closing(w.call, w.lab, "watch", all)
	return doc, err
}
