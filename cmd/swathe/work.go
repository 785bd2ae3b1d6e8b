package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"time"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/queue"
	"swathe/cmd/internal/store"
	"swathe/cmd/internal/work"
)

const queueHelp = "the queue's database: postgres://USER@HOST/DATABASE, or file:NAME of a file that holds the `ADDRESS`; " +
	"default: $SWATHE_QUEUE, or else the lab's file results/.queue.sqlite"

var workVerb = verb{
	name:  "work",
	args:  "LAB",
	brief: "measure recordings from the lab's queue",
	about: `Takes recordings from the queue of the lab in the folder LAB, one after another,
and measures them until stopped. Start it on every machine that shares the
folder and the queue's database. Add recordings with

  swathe queue LAB add

Ctrl-C, or SIGTERM: recordings being measured are finished, no new ones are
taken. A second time: they go back to the queue. A worker that dies or hangs is
noticed within seconds, and another takes over its recording.

With --store it needs no access to the lab's folder: LAB is then any folder of
this machine, and the recordings come from the store that they were added with.
They are kept there as long as --cache allows.

A worker takes only recordings that were added by a program of its own analysis
version. The queue holds no figures: results are written into the lab's folder,
whole or not at all, so that measuring a recording twice does no harm.

See: swathe help queue`,
	examples: `swathe work my-lab
swathe work my-lab --until-empty --queue postgres://swathe@db.example/trials`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		opt := queue.DefaultOptions()
		opt.Apart = measureApart
		address := fs.String("queue", "", queueHelp)
		fs.IntVar(&opt.Jobs, "jobs", opt.Jobs, "measure `N` recordings at once; one already keeps two cores busy")
		fs.IntVar(&opt.Tries, "tries", opt.Tries, "measure a recording by a program of its own once its workers died `N` times, and note it as failed if that dies too")
		memory := fs.Int("memory", 0, memoryHelp)
		metrics := fs.String("metrics", "", metricsHelp)
		depot := fs.String("store", "", "fetch recordings from the object store at `URL` and put results there, instead of sharing the lab's folder: file:///FOLDER or s3://BUCKET?region=REGION; default: $SWATHE_STORE")
		cache := fs.Int64("cache", 20, "with --store: keep up to `GB` of recordings on this machine")
		empty := fs.Bool("until-empty", false, "stop as soon as nothing waits and nothing is under way")
		return func(c *call) (any, error) {
			if len(c.args) != 1 {
				return nil, usage("work needs the lab's folder and nothing else")
			}
			if opt.Jobs < 1 || opt.Tries < 1 {
				return nil, usage("--jobs and --tries should be 1 or more")
			}
			if err := limitEye(*memory); err != nil {
				return nil, err
			}
			if *cache < 0 || *cache > math.MaxInt64>>30 {
				return nil, usage("--cache is %d; it should be 0 GB or more", *cache)
			}
			where, err := queue.Address(*address)
			if err != nil {
				return nil, usageError{err}
			}
			shared, err := store.Address(*depot)
			if err != nil {
				return nil, usageError{err}
			}
			if shared != "" {
				if where == "" {
					return nil, usage("with --store a worker needs --queue too: the lab's own queue is a file in a folder that it does not see")
				}
				if opt.Depot, err = openDepot(c, shared, *cache<<30); err != nil {
					return nil, err
				}
				defer opt.Depot.Store.Close()
			}
			return workOn(c, where, *metrics, opt, *empty)
		}
	},
}

// apart is set in the environment of a swathe measure that a worker starts.
const apart = "SWATHE_APART"

// measureApart measures one recording by a program of its own. The error says how
// that program ended, if it did not end by itself.
func measureApart(ctx context.Context, dir, run string, again bool, how queue.How) error {
	self, err := os.Executable()
	if err != nil {
		return err
	}
	args := []string{"measure", dir, run, "--cell=" + how.Cell, "--draws=" + how.Draws}
	if again {
		args = append(args, "--again")
	}
	if how.Anyway {
		args = append(args, "--anyway")
	}
	cmd := exec.CommandContext(ctx, self, args...)
	cmd.Env = append(os.Environ(), apart+"=1")
	cmd.Cancel = func() error { return cmd.Process.Signal(syscall.SIGTERM) }
	cmd.WaitDelay = 5 * time.Second
	err = cmd.Run()
	var ended *exec.ExitError
	if errors.As(err, &ended) && ended.ExitCode() == exitFailed {
		return nil // the note of the failure is there
	}
	return err
}

// openDepot makes the call's folder that of a worker which has its files from a store.
func openDepot(c *call, address string, limit int64) (*queue.Depot, error) {
	s, err := store.Open(c.ctx, address)
	if err != nil {
		return nil, err
	}
	dir, err := filepath.Abs(c.args[0])
	if err == nil {
		err = queue.Adopt(c.ctx, dir, s)
	}
	if err != nil {
		s.Close()
		return nil, err
	}
	return &queue.Depot{Store: s, Cache: &store.Cache{Dir: dir, Limit: limit}}, nil
}

func workOn(c *call, address, metrics string, opt queue.Options, untilEmpty bool) (any, error) {
	q, err := queue.Open(c.ctx, c.args[0], address)
	if err != nil {
		return nil, err
	}
	defer q.Close()
	unmetered, err := meter(c, metrics, q)
	if err != nil {
		return nil, err
	}
	defer unmetered()
	doc := struct {
		Verb string   `json:"verb"`
		Lab  string   `json:"lab"`
		Runs []runDoc `json:"runs"`
	}{"work", c.args[0], []runDoc{}}
	failed := false
	hand, err := q.Work(c.ctx, opt, newEye(), queue.Hooks{Say: c.say, Done: func(o work.Outcome) {
		if o.Kind == work.Stopped {
			return
		}
		failed = failed || o.Kind == work.Failed || o.Kind == work.FailedBefore
		c.print("%s", summary(o))
		if c.json {
			doc.Runs = append(doc.Runs, newRunDoc(o))
		}
	}})
	if err != nil {
		return nil, err
	}
	c.say("Working; stop with Ctrl-C.")
	var foreign error
	if s, err := q.Status(c.ctx, opt); err != nil {
		c.say("Whether recordings wait for another analysis version could not be asked: %v.", err)
	} else if s.Elsewhere > 0 {
		foreign = fmt.Errorf("%s for a program of another analysis version; this one refuses them. Use the same version of swathe everywhere", counted(s.Elsewhere, "recording waits", "recordings wait"))
		c.say("%v.", foreign)
	}
	waitForWork(c.ctx, q, untilEmpty)
	c.say("Finishing what is under way.")
	hard, stop := context.WithCancel(context.Background())
	defer stop()
	again := make(chan os.Signal, 1)
	stopSignals(again)
	go func() {
		select {
		case <-again:
			stop()
		case <-hard.Done():
		}
	}()
	hand.Drain(hard)
	switch {
	case failed:
		return doc, errSomeFailed
	case untilEmpty && foreign != nil:
		return doc, foreign
	}
	return doc, nil
}

// waitForWork waits until the call is stopped or, if asked, the queue is empty.
func waitForWork(ctx context.Context, q *queue.Queue, untilEmpty bool) {
	tick := time.NewTicker(500 * time.Millisecond)
	defer tick.Stop()
	for quiet := 0; ; {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		if !untilEmpty {
			continue
		}
		n, err := q.Open(ctx)
		if err == nil && n == 0 {
			quiet++
		} else {
			quiet = 0
		}
		if quiet > 1 {
			return
		}
	}
}
