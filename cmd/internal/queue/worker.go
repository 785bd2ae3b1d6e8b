package queue

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/riverqueue/river"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
	"swathe/track"
)

// Hand takes jobs from a queue and measures them until it is stopped.
type Hand struct {
	q      *Queue
	opt    Options
	eye    work.Eye
	tell   func(work.Outcome)
	say    func(format string, args ...any)
	id     string
	client client
	stop   context.CancelFunc
	done   chan struct{}

	mu    sync.Mutex
	lab   *lab.Lab
	setup string // signature of the set-up as last read
	items map[string]listed
	held  map[int64]*progress
}

// progress is how far a job under way is.
type progress struct {
	run   string
	share float64
	doing string
	told  bool // it has not changed since it was written down
}

// Work begins to take jobs. tell is called with what came of each, never two at
// once; say with what goes wrong with the queue itself.
func (q *Queue) Work(ctx context.Context, opt Options, eye work.Eye, tell func(work.Outcome), say func(format string, args ...any)) (*Hand, error) {
	if err := opt.Validate(); err != nil {
		return nil, err
	}
	var b [6]byte
	if _, err := rand.Read(b[:]); err != nil {
		return nil, err
	}
	host, _ := os.Hostname()
	h := &Hand{q: q, opt: opt, eye: eye, tell: tell, say: say, done: make(chan struct{}), held: map[int64]*progress{},
		id: fmt.Sprintf("%s-%d-%s", host, os.Getpid(), hex.EncodeToString(b[:]))}
	workers := river.NewWorkers()
	if err := river.AddWorkerSafely(workers, &worker{hand: h}); err != nil {
		return nil, err
	}
	var err error
	h.client, err = q.client(&river.Config{ID: h.id, Workers: workers,
		Queues: map[string]river.QueueConfig{q.name: {MaxWorkers: opt.Jobs}},
		// Recordings take as long as they take; who died is found by its silence.
		JobTimeout: -1, RescueStuckJobsAfter: 10 * 365 * 24 * time.Hour,
		FetchPollInterval: time.Second, FetchCooldown: 50 * time.Millisecond,
		CompletedJobRetentionPeriod: time.Hour,
	})
	if err != nil {
		return nil, err
	}
	if _, err := q.exec(ctx, "insert into swathe_worker (id, queue, host, pid, jobs, started, seen) values ($1, $2, $3, $4, $5, {now}, {now})",
		h.id, q.name, host, os.Getpid(), opt.Jobs); err != nil {
		return nil, fmt.Errorf("this worker can't be entered in the queue: %w", err)
	}
	if err := h.client.Start(context.WithoutCancel(ctx)); err != nil {
		return nil, fmt.Errorf("the queue can't be worked on: %w", err)
	}
	beat, stop := context.WithCancel(context.WithoutCancel(ctx))
	h.stop = stop
	go h.beat(beat)
	return h, nil
}

// Drain takes nothing new and returns when what is under way is done, or, once
// ctx is, stops that too: it goes back to those that wait.
func (h *Hand) Drain(ctx context.Context) {
	short, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
	_, _ = h.q.exec(short, "update swathe_worker set draining = 1 where id = $1", h.id)
	cancel()
	if err := h.client.Stop(ctx); err != nil {
		bye, cancel := context.WithTimeout(context.Background(), 20*time.Second)
		defer cancel()
		_ = h.client.StopAndCancel(bye)
	}
	h.stop()
	<-h.done
	bye, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	_, _ = h.q.exec(bye, "delete from swathe_progress where worker = $1", h.id)
	_, _ = h.q.exec(bye, "delete from swathe_worker where id = $1", h.id)
}

// beat says that the worker lives and what it does, and gives back what lost
// workers held.
func (h *Hand) beat(ctx context.Context) {
	defer close(h.done)
	silent := false
	tick := time.NewTicker(h.opt.Beat)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		short, cancel := context.WithTimeout(ctx, 5*h.opt.Beat)
		err := errors.Join(h.live(short), h.rescue(short))
		cancel()
		switch {
		case ctx.Err() != nil:
		case err != nil && !silent:
			h.say("The queue's database does not answer; work goes on and is reported later.")
			silent = true
		case err == nil && silent:
			h.say("The queue's database answers again.")
			silent = false
		}
	}
}

func (h *Hand) live(ctx context.Context) error {
	n, err := h.q.exec(ctx, "update swathe_worker set seen = {now} where id = $1", h.id)
	if err == nil && n == 0 { // taken for lost meanwhile
		host, _ := os.Hostname()
		_, err = h.q.exec(ctx, "insert into swathe_worker (id, queue, host, pid, jobs, started, seen) values ($1, $2, $3, $4, $5, {now}, {now})", h.id, h.q.name, host, os.Getpid(), h.opt.Jobs)
	}
	if err != nil {
		return err
	}
	h.mu.Lock()
	tell := map[int64]progress{}
	for id, p := range h.held {
		if !p.told {
			tell[id] = *p
			p.told = true
		}
	}
	h.mu.Unlock()
	for id, p := range tell {
		if err := h.write(ctx, id, p); err != nil {
			return err
		}
	}
	return nil
}

func (h *Hand) write(ctx context.Context, id int64, p progress) error {
	_, err := h.q.exec(ctx, `insert into swathe_progress (job, worker, run, share, doing, at) values ($1, $2, $3, $4, $5, {now})
		on conflict (job) do update set worker = excluded.worker, run = excluded.run, share = excluded.share, doing = excluded.doing, at = excluded.at`,
		id, h.id, p.run, p.share, p.doing)
	return err
}

// rescue puts back what is marked as worked on and is not: jobs of workers that
// count as lost, and this worker's own that it no longer knows, which happens when
// the database was away as a job ended.
func (h *Hand) rescue(ctx context.Context) error {
	const back = "update river_job set state = 'available' where queue = $1 and state = 'running' and "
	lost := h.opt.Lost.Seconds()
	if _, err := h.q.exec(ctx, back+"{age} > 1 and coalesce({last}, '') not in (select id from swathe_worker where seen > {now} - $2)", h.q.name, lost); err != nil {
		return err
	}
	mine := []string{"0"}
	h.mu.Lock()
	for id := range h.held {
		mine = append(mine, fmt.Sprint(id))
	}
	h.mu.Unlock()
	if _, err := h.q.exec(ctx, back+"{age} > $2 and {last} = $3 and id not in ("+strings.Join(mine, ", ")+")", h.q.name, lost, h.id); err != nil {
		return err
	}
	if _, err := h.q.exec(ctx, "delete from swathe_progress where worker not in (select id from swathe_worker where seen > {now} - $1)", lost); err != nil {
		return err
	}
	// One that is silent for long will not come back under this name.
	if _, err := h.q.exec(ctx, "delete from swathe_worker where seen < {now} - $1", 10*lost); err != nil {
		return err
	}
	_, err := h.q.exec(ctx, "delete from swathe_done where at < {now} - $1", (30 * 24 * time.Hour).Seconds())
	return err
}

// worker is what River calls.
type worker struct {
	river.WorkerDefaults[Job]
	hand *Hand
}

// Work measures the recording of a job. An error lets the job be tried again; a
// recording that can't be measured is no error here: it is noted in the lab.
func (w *worker) Work(ctx context.Context, job *river.Job[Job]) error {
	h, run := w.hand, job.Args.Run
	start := time.Now()
	p := &progress{run: run, doing: "starting"}
	h.mu.Lock()
	h.held[job.ID] = p
	h.mu.Unlock()
	defer func() {
		h.mu.Lock()
		delete(h.held, job.ID)
		h.mu.Unlock()
		short, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
		defer cancel()
		_, _ = h.q.exec(short, "delete from swathe_progress where job = $1", job.ID)
	}()
	l, item, err := h.find(run)
	switch {
	case err != nil:
		return err // the set-up can't be read at present; it is tried again
	case l == nil:
		return river.JobCancel(fmt.Errorf("there is no recording of %s any more", run))
	case setupOf(l, item) != job.Args.Setup:
		if _, err := h.q.Put(ctx, l, item, job.Args.Again, job.Priority == turnFirst); err != nil {
			return err
		}
		return river.JobCancel(errors.New("the set-up has changed since; the recording was put in anew"))
	}
	if item.Refusal == nil && job.Attempt > 1 {
		if err := l.TidyRun(item.Run.Layout, item.Run.RunName.String()); err != nil {
			return err
		}
	}
	if job.Attempt > h.opt.Tries {
		return h.giveUp(l, item, job.Attempt-1)
	}
	watch := work.Watcher{Progress: func(_ string, t track.Progress) {
		h.mu.Lock()
		defer h.mu.Unlock()
		if !math.IsNaN(t.Share) {
			p.share = math.Max(0, math.Min(1, t.Share))
		}
		p.doing, p.told = "measuring", false
	}}
	// A job that is tried again because its worker died may be done already.
	out := work.All(ctx, l, []work.Item{item}, work.Options{Jobs: 1, Again: job.Args.Again && job.Attempt == 1, Eye: h.eye}, watch)[0]
	if out.Kind == work.Stopped {
		return ctx.Err()
	}
	// The result is there; what goes uncounted where this fails is only the rate.
	_, _ = h.q.exec(ctx, "insert into swathe_done (queue, run, kind, worker, seconds, at) values ($1, $2, $3, $4, $5, {now})",
		h.q.name, run, string(out.Kind), h.id, time.Since(start).Seconds())
	h.mu.Lock()
	defer h.mu.Unlock()
	h.tell(out)
	return nil
}

// giveUp notes a recording that ended its workers again and again.
func (h *Hand) giveUp(l *lab.Lab, item work.Item, tries int) error {
	if item.Refusal != nil {
		return nil
	}
	status, err := l.Status(item.Run)
	if err != nil {
		return err
	}
	reason := fmt.Sprintf("The worker that measured this recording ended without a word, %d times of %d. Measure it by itself to see why: swathe measure LAB %s --again", tries, tries, item.ID())
	if err := l.WriteFailure(item.Run, status, "worker lost", reason, math.NaN()); err != nil {
		return err
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.tell(work.Outcome{Run: item.ID(), Kind: work.Failed, Reason: reason})
	return nil
}

// listed is a recording as it was when the folder was read.
type listed struct {
	item  work.Item
	stamp string
}

// stampOf changes when a recording or what is noted beside it does.
func stampOf(item work.Item) string {
	var b strings.Builder
	for _, f := range item.Files() {
		for _, name := range []string{f, strings.TrimSuffix(f, filepath.Ext(f)) + ".yaml", filepath.Join(filepath.Dir(f), "runs.csv")} {
			if st, err := os.Stat(name); err == nil {
				fmt.Fprint(&b, st.Size(), " ", st.ModTime().UnixNano(), ";")
			} else {
				b.WriteString("none;")
			}
		}
	}
	return b.String()
}

// find returns the lab as it is now and the recording of a run in it; no lab if
// there is none. The folder is read anew when the set-up, the recording or its
// notes changed, or the run is not known.
func (h *Hand) find(run string) (*lab.Lab, work.Item, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	sig := work.SetupSignature(h.q.Dir)
	if was, ok := h.items[run]; ok && sig == h.setup && stampOf(was.item) == was.stamp {
		return h.lab, was.item, nil
	}
	l, err := lab.Open(h.q.Dir)
	if err != nil {
		return nil, work.Item{}, err
	}
	list, err := work.List(l, nil)
	if err != nil {
		return nil, work.Item{}, err
	}
	h.lab, h.setup, h.items = l, sig, map[string]listed{}
	for _, i := range list {
		h.items[i.ID()] = listed{i, stampOf(i)}
	}
	found, ok := h.items[run]
	if !ok {
		return nil, work.Item{}, nil
	}
	return l, found.item, nil
}
