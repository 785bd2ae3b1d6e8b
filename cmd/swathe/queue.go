package main

import (
	"fmt"
	"math"
	"os"
	"os/signal"
	"strings"
	"syscall"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/queue"
	"swathe/cmd/internal/store"
	"swathe/cmd/internal/work"
	"swathe/report/words"
)

func stopSignals(to chan<- os.Signal) { signal.Notify(to, os.Interrupt, syscall.SIGTERM) }

const storeHelp = "send recordings to the object store at `URL`, and take results from it: file:///FOLDER or s3://BUCKET?region=REGION, " +
	"for workers that do not share the lab's folder; default: $SWATHE_STORE"

var queueVerb = verb{
	name:  "queue",
	args:  "LAB | LAB add [RUN...] | LAB first RUN... | LAB cancel RUN... | LAB pause | LAB resume | LAB fetch | migrate",
	brief: "show and change the queue of recordings",
	about: `Shows the workers on the queue of the lab in the folder LAB, what they do, what
is waiting, and how long it will take at the present rate.

  swathe queue LAB add           add all recordings without a current result
  swathe queue LAB add RUN...    add these, ahead of all others
  swathe queue LAB first RUN...  move these to the front
  swathe queue LAB cancel RUN... stop these, even while being measured
  swathe queue LAB pause         finish what is being measured, then wait
  swathe queue LAB resume        end the pause
  swathe queue LAB fetch         take finished results out of the store
  swathe queue migrate           make or update the tables in PostgreSQL, once

RUN is <layout>/<robot>_<phase>_<trial>, with * and ? as wildcards.

See: swathe help queue`,
	examples: `swathe queue my-lab add
swathe queue my-lab first 'den/linden_*'
swathe queue my-lab`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		address := fs.String("queue", "", queueHelp)
		depot := fs.String("store", "", storeHelp)
		again := fs.Bool("again", false, "with add: also recordings that have an up-to-date result")
		return func(c *call) (any, error) {
			if len(c.args) == 0 {
				return nil, usage("queue needs the lab's folder, or the word migrate")
			}
			where, err := queue.Address(*address)
			if err != nil {
				return nil, usageError{err}
			}
			if c.args[0] == "migrate" && len(c.args) == 1 {
				if err := queue.Migrate(c.ctx, where); err != nil {
					return nil, err
				}
				c.print("The queue's tables are in place.")
				return queueDoc{Verb: "queue", Lab: ""}, nil
			}
			shared, err := store.Address(*depot)
			if err != nil {
				return nil, usageError{err}
			}
			return queueOf(c, where, shared, *again)
		}
	},
}

// queueDoc is the outcome of the verb queue.
type queueDoc struct {
	Verb       string      `json:"verb"`
	Lab        string      `json:"lab"`
	Paused     bool        `json:"paused"`
	Workers    []workerDoc `json:"workers"`
	Waiting    []string    `json:"waiting"`
	Elsewhere  int         `json:"waiting_for_other_versions"`
	PerMinute  float64     `json:"done_per_minute"`
	RemainingS *float64    `json:"remaining_s"`
}

type workerDoc struct {
	ID       string     `json:"id"`
	Host     string     `json:"host"`
	PID      int        `json:"pid"`
	Jobs     int        `json:"jobs"`
	Draining bool       `json:"draining"`
	SilentS  float64    `json:"silent_s"`
	Doing    []doingDoc `json:"doing"`
}

type doingDoc struct {
	Run   string  `json:"run"`
	Share float64 `json:"share"`
	What  string  `json:"what"`
}

func queueOf(c *call, address, shared string, again bool) (any, error) {
	l, err := lab.Open(c.args[0])
	if err != nil {
		return nil, err
	}
	q, err := queue.Open(c.ctx, c.args[0], address)
	if err != nil {
		return nil, err
	}
	defer q.Close()
	action, names := "", []string{}
	if len(c.args) > 1 {
		action, names = c.args[1], c.args[2:]
	}
	if shared != "" && (action == "add" || action == "fetch") {
		if err := q.Share(c.ctx, shared); err != nil {
			return nil, err
		}
	}
	switch action {
	case "":
	case "fetch":
		err = fetch(c, q, l, names)
	case "pause", "resume":
		if len(names) > 0 {
			return nil, usage("%s applies to the whole queue; name no run", action)
		}
		if action == "pause" {
			err = q.Pause(c.ctx)
		} else {
			err = q.Resume(c.ctx)
		}
	case "add", "first", "cancel":
		err = change(c, q, l, action, names, again)
	default:
		return nil, usage("the queue has no action %q.%s", action, lab.DidYouMean(action, []string{"add", "first", "cancel", "pause", "resume", "fetch"}))
	}
	if err != nil {
		return nil, err
	}
	s, err := q.Status(c.ctx, queue.DefaultOptions())
	if err != nil {
		return nil, fmt.Errorf("the queue can't be read: %w", err)
	}
	printQueue(c, s)
	return newQueueDoc(c.args[0], s), nil
}

// fetch takes results out of the store.
func fetch(c *call, q *queue.Queue, l *lab.Lab, names []string) error {
	switch {
	case len(names) > 0:
		return usage("fetch takes all results that are there; name no run")
	case q.Store == nil:
		return usage("fetch needs --store, the store that the workers put results into")
	}
	runs, err := q.Store.Collect(c.ctx, l)
	c.print("%s fetched.", counted(len(runs), "result", "results"))
	return err
}

// change puts runs in, moves them to the front or takes them out.
func change(c *call, q *queue.Queue, l *lab.Lab, action string, names []string, again bool) error {
	if len(names) == 0 && action != "add" {
		return usage("%s needs one or more runs", action)
	}
	items, err := work.List(l, names)
	if err != nil {
		return err
	}
	if action == "add" && len(names) == 0 {
		n, stopped, err := q.Fill(c.ctx, l, items, queue.Ask{Again: again})
		c.print("%s", counted(n, "recording", "recordings")+" added.")
		if stopped > 0 {
			c.print("%s stopped before; name them to put them in.", counted(stopped, "recording was", "recordings were"))
		}
		return err
	}
	n := 0
	for _, item := range items {
		hit := false
		switch action {
		case "add":
			if err = q.Release(c.ctx, item.ID()); err == nil {
				hit, err = q.Put(c.ctx, l, item, queue.Ask{Again: again, First: true})
			}
		case "first":
			hit, err = q.First(c.ctx, item.ID())
		case "cancel":
			hit, err = q.Cancel(c.ctx, item.ID())
		}
		if err != nil {
			return err
		}
		if hit {
			n++
		}
	}
	done := map[string]string{"add": "added", "first": "moved to the front", "cancel": "removed"}[action]
	c.print("%s %s.", counted(n, "recording", "recordings"), done)
	return nil
}

func printQueue(c *call, s queue.Status) {
	state := ""
	if s.Paused {
		state = " The queue is paused; continue it with: swathe queue LAB resume"
	}
	c.print("%s waiting, %s.%s", counted(len(s.Waiting), "recording", "recordings"), counted(len(s.Workers), "worker", "workers"), state)
	for _, w := range s.Workers {
		doing := "idle"
		if len(w.Doing) > 0 {
			var parts []string
			for _, d := range w.Doing {
				parts = append(parts, fmt.Sprintf("%s %.0f %%", d.Run, 100*d.Share))
			}
			doing = strings.Join(parts, ", ")
		}
		if w.Draining {
			doing += ", stopping"
		}
		c.print("  %s: %s", w.Name(), doing)
	}
	if s.DoneLast > 0 {
		left := ""
		if !math.IsNaN(s.RemainingS) && len(s.Waiting) > 0 {
			left = ", done in about " + words.Duration(s.RemainingS)
		}
		c.print("%.1f recordings per minute%s.", s.PerMinute, left)
	}
	if s.Elsewhere > 0 {
		c.print("%s for swathe of another analysis version.", counted(s.Elsewhere, "recording waits", "recordings wait"))
	}
	if len(s.Waiting) > 0 && len(s.Workers) == 0 {
		c.print("No worker is running. Start one: swathe work LAB")
	}
	for i, run := range s.Waiting {
		if i == 10 {
			c.print("  ... and %d more", len(s.Waiting)-i)
			break
		}
		c.print("  %d. %s", i+1, run)
	}
}

func newQueueDoc(dir string, s queue.Status) queueDoc {
	d := queueDoc{Verb: "queue", Lab: dir, Paused: s.Paused, Workers: []workerDoc{}, Waiting: append([]string{}, s.Waiting...), Elsewhere: s.Elsewhere, PerMinute: s.PerMinute}
	if !math.IsNaN(s.RemainingS) {
		d.RemainingS = &s.RemainingS
	}
	for _, w := range s.Workers {
		doc := workerDoc{w.ID, w.Host, w.PID, w.Jobs, w.Draining, w.SilentS, []doingDoc{}}
		for _, g := range w.Doing {
			doc.Doing = append(doc.Doing, doingDoc(g))
		}
		d.Workers = append(d.Workers, doc)
	}
	return d
}

// counted writes a number of things.
func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
