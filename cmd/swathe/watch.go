package main

import (
	"errors"
	"sync"
	"time"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/queue"
	"swathe/cmd/internal/serve"
	"swathe/cmd/internal/store"
	"swathe/cmd/internal/work"
	"swathe/track"
)

var watchVerb = verb{
	name:  "watch",
	args:  "LAB",
	brief: "measure recordings as they arrive",
	about: `Does what measure does, then waits: a recording copied into
LAB/recordings/<layout> is measured once its copy is complete: when its size and
time have not changed for a few seconds and it can be opened. Stop it with
Ctrl-C.

The folders are also searched every few seconds, so that a network folder that
reports no changes works too. Changes of lab.yaml are read at once; while
lab.yaml has errors, swathe lists them and waits.

Other machines can help measure (swathe help queue). Recordings stopped on the
page or with swathe queue stay stopped until you start them again.

With --json the document is printed at the end.`,
	examples: `swathe watch my-lab`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		var o measureOptions
		o.addFlags(fs)
		settle := fs.Duration("settle", 3*time.Second, "treat a copy as complete after `TIME` without a change")
		at := fs.String("queue", "", queueHelp)
		depot := fs.String("store", "", storeHelp)
		poll := fs.Duration("poll", 5*time.Second, "search the folders every `TIME`")
		return func(c *call) (any, error) {
			if len(c.args) != 1 {
				return nil, usage("watch needs the lab's folder and nothing else")
			}
			if *settle < 0 || *poll < 10*time.Millisecond {
				return nil, usage("--settle should be 0 or more and --poll at least 10ms")
			}
			address, err := queue.Address(*at)
			if err != nil {
				return nil, usageError{err}
			}
			shared, err := store.Address(*depot)
			if err != nil {
				return nil, usageError{err}
			}
			l, _, err := o.open(c, c.args[0])
			if err != nil {
				return nil, err
			}
			return watchLab(c, l, &o, serve.Options{Jobs: o.jobs, Settle: *settle, Poll: *poll, Queue: address, Store: shared,
				How: queue.How{Cell: o.cell, Draws: o.draws, Anyway: o.anyway}})
		}
	},
}

// watchLab is the desk behind the page without its page.
func watchLab(c *call, l *lab.Lab, o *measureOptions, opt serve.Options) (any, error) {
	var mu sync.Mutex
	b := newBar(c.err, opt.Jobs)
	outcomes, order := map[string]work.Outcome{}, []string{}
	show := watcher(c, b, true)
	current, first := l, true // the first time it reads what was read just now
	opt.Open = func(dir string) (*lab.Lab, error) {
		now, _, err := o.open(c, dir)
		mu.Lock()
		defer mu.Unlock()
		switch {
		case err != nil:
			c.say("swathe: lab.yaml now has errors; fix them to continue:\n%v", err)
		case !first:
			c.say("lab.yaml has changed and was read again.")
		}
		if first = false; err == nil {
			current = now
		}
		return now, err
	}
	locked := func(do func()) {
		mu.Lock()
		defer mu.Unlock()
		do()
	}
	opt.Began = func(run string) {
		locked(func() {
			if len(b.active) == 0 {
				b.done = 0
			}
			show.Started(run)
		})
	}
	opt.Progress = func(run string, p track.Progress) { locked(func() { show.Progress(run, p) }) }
	opt.Told = func(out work.Outcome) {
		locked(func() {
			if out.Kind == work.Stopped {
				b.finished(out.Run)
				return
			}
			last, seen := outcomes[out.Run]
			if seen && out.Kind == work.UpToDate && (last.Kind == work.Measured || last.Kind == work.UpToDate) {
				return // another look found nothing new
			}
			if !seen {
				order = append(order, out.Run)
			}
			outcomes[out.Run] = out
			show.Done(out)
		})
	}
	desk, err := serve.New(c.ctx, l.Dir, opt, serve.Eye{Eye: newEye()}, c.say)
	if err != nil {
		return nil, err
	}
	c.say("Watching %s; stop with Ctrl-C.", l.Rel(l.RecordingsDir()))
	<-c.ctx.Done()
	err = desk.Close()
	b.close()
	// Being stopped is how a watch ends, so it is no failure.
	var all []work.Outcome
	for _, id := range order {
		all = append(all, outcomes[id])
	}
	doc, cerr := closing(c, current, "watch", all)
	return doc, errors.Join(cerr, err)
}
