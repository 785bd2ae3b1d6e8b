package main

import (
	"os"
	"time"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
)

var watchVerb = verb{
	name:  "watch",
	args:  "LAB",
	brief: "measure recordings as they arrive",
	about: `Does what measure does, then waits: a recording copied into
LAB/recordings/<layout> is measured once its copy is complete, that is when its
size and time have not changed for a few seconds and it opens. Stop it with
Ctrl-C.

The folders are also searched every few seconds, so that a network folder that
reports no changes works too. A change of lab.yaml is read at once; while
lab.yaml is wrong, swathe says why and waits.

With --json the document is printed at the end.`,
	examples: `swathe watch my-lab`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		var o measureOptions
		o.addFlags(fs)
		settle := fs.Duration("settle", 3*time.Second, "treat a copy as complete after `TIME` without a change")
		poll := fs.Duration("poll", 5*time.Second, "search the folders every `TIME`")
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
				still: work.NewStill(*settle), handled: map[string]string{}, outcomes: map[string]work.Outcome{}}
			changed, err := work.Notices(c.ctx, l.Dir)
			if err != nil {
				c.say("The system gives no notice of changes (%v); the folders are looked through instead.", err)
			}
			w.loop(changed)
			return w.close()
		}
	},
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
	still        *work.Still
	handled      map[string]string // by run: signature under which it was last dealt with
	order        []string
	outcomes     map[string]work.Outcome
	said         string // last complaint about the folders, not to repeat it
}

// loop works and waits until the call is stopped.
func (w *watching) loop(changed <-chan struct{}) {
	w.setup = work.SetupSignature(w.lab.Dir)
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
		sig, ready := w.still.Look(w.lab, item)
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
		w.handled[item.ID()], _ = w.still.Look(w.lab, item)
	}
	if first && w.call.ctx.Err() == nil {
		w.call.say("Watching %s; stop with Ctrl-C.", w.lab.Rel(w.lab.RecordingsDir()))
	}
	return waiting
}

// current reads the set-up anew if it changed; false while it is wrong.
func (w *watching) current() bool {
	sig := work.SetupSignature(w.lab.Dir)
	if sig == w.setup {
		return !w.wrong
	}
	w.setup = sig
	l, opt, err := w.options.open(w.call, w.lab.Dir)
	if err != nil {
		w.wrong = true
		w.call.say("swathe: the set-up changed and is wrong now; waiting until it is fixed:\n%v", err)
		return false
	}
	w.lab, w.opt, w.wrong = l, opt, false
	w.call.say("The set-up changed and was read anew.")
	return true
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
