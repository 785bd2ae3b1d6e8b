package queue

import (
	"cmp"
	"context"
	"crypto/rand"
	"database/sql"
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

	"swathe/cmd/internal/disk"
	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
	"swathe/track"
)

// Hooks are what a worker tells, and asks. Any but Say may be nil; Began, Progress
// and Done are never called two at once.
type Hooks struct {
	// Refuse says why recordings may not be measured here.
	Refuse func(files []string) error
	// Began tells that a run is measured now, with what set-up.
	Began    func(l *lab.Lab, item work.Item)
	Progress func(run string, p track.Progress)
	// Done tells what came of a run, Stopped included.
	Done func(work.Outcome)
	// Say tells what goes wrong with the queue itself.
	Say func(format string, args ...any)
}

// Hand takes jobs from a queue and measures them until it is stopped.
type Hand struct {
	q      *Queue
	opt    Options
	eye    work.Eye
	hooks  Hooks
	id     string
	client client
	stop   context.CancelFunc
	done   chan struct{}
	tell   sync.Mutex

	mu    sync.Mutex
	lab   *lab.Lab
	how   How    // applied to it
	setup string // signature of the set-up as last read
	items map[string]listed
	// differs holds hashes of set-ups that jobs came with since lab.yaml last
	// changed: the folder was read anew for each.
	differs map[string]bool
	held    map[int64]*progress
	silent  bool // the database does not answer
}

// progress is how far a job under way is.
type progress struct {
	run    string
	share  float64
	doing  string
	told   bool // it has not changed since it was written down
	halted bool // by the user
	cancel context.CancelFunc
}

// Work begins to take jobs. With no jobs at once it only looks after the queue.
func (q *Queue) Work(ctx context.Context, opt Options, eye work.Eye, hooks Hooks) (*Hand, error) {
	if err := opt.Validate(); err != nil {
		return nil, err
	}
	var b [3]byte
	if _, err := rand.Read(b[:]); err != nil {
		return nil, err
	}
	h := &Hand{q: q, opt: opt, eye: eye, hooks: hooks, done: make(chan struct{}), held: map[int64]*progress{},
		id: fmt.Sprintf("%s-%d-%s", disk.Home(), os.Getpid(), hex.EncodeToString(b[:]))}
	workers := river.NewWorkers()
	if err := river.AddWorkerSafely(workers, &worker{hand: h}); err != nil {
		return nil, err
	}
	c := &river.Config{ID: h.id, Workers: workers,
		// Recordings take as long as they take; who died is found by its silence.
		JobTimeout: -1, RescueStuckJobsAfter: 10 * 365 * 24 * time.Hour,
		FetchPollInterval: time.Second, FetchCooldown: time.Millisecond,
		CompletedJobRetentionPeriod: time.Hour,
	}
	if opt.Jobs > 0 {
		c.Queues = map[string]river.QueueConfig{q.name: {MaxWorkers: opt.Jobs}}
	}
	var err error
	if h.client, err = q.client(c); err != nil {
		return nil, err
	}
	if opt.Depot != nil {
		opt.Depot.tidy()
	}
	if opt.Jobs > 0 {
		if err := h.enter(ctx); err != nil {
			return nil, fmt.Errorf("this worker can't be registered with the queue: %w", err)
		}
		if err := errors.Join(h.bury(ctx), h.rescue(ctx)); err != nil {
			return nil, fmt.Errorf("the queue can't be maintained: %w", err)
		}
		if err := h.client.Start(context.WithoutCancel(ctx)); err != nil {
			return nil, fmt.Errorf("the queue can't be started: %w", err)
		}
		q.putter.Store(&h.client) // so that what is put in here is taken at once
	}
	beat, stop := context.WithCancel(context.WithoutCancel(ctx))
	h.stop = stop
	go h.beat(beat)
	return h, nil
}

// enter puts the worker among those that live.
func (h *Hand) enter(ctx context.Context) error {
	host, _ := os.Hostname()
	_, err := h.q.exec(ctx, "insert into swathe_worker (id, queue, host, pid, jobs, started, seen) values ($1, $2, $3, $4, $5, {now}, {now})",
		h.id, h.q.name, host, os.Getpid(), h.opt.Jobs)
	return err
}

// bury strikes out workers of this machine whose process has ended, so that what
// they held need not wait until their silence tells.
func (h *Hand) bury(ctx context.Context) error {
	gone := []string{}
	home := disk.Home() + "-"
	err := h.q.query(ctx, func(r *sql.Rows) error {
		var id string
		var pid int
		if err := r.Scan(&id, &pid); err != nil {
			return err
		}
		if strings.HasPrefix(id, home) && id != h.id && (pid == os.Getpid() || !disk.Alive(pid)) {
			gone = append(gone, id)
		}
		return nil
	}, "select id, pid from swathe_worker where queue = $1", h.q.name)
	for _, id := range gone {
		if err == nil {
			_, err = h.q.exec(ctx, "delete from swathe_worker where id = $1", id)
		}
	}
	return err
}

// Interrupt stops a run at once if this worker has it: it is not tried again.
func (h *Hand) Interrupt(run string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, p := range h.held {
		if p.run == run {
			p.halted = true
			p.cancel()
		}
	}
}

// Silent tells that the database does not answer at present.
func (h *Hand) Silent() bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.silent
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

// beat says that the worker lives and what it does, stops what the user stopped
// elsewhere, and gives back what lost workers held.
func (h *Hand) beat(ctx context.Context) {
	defer close(h.done)
	tick := time.NewTicker(h.opt.Beat)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		short, cancel := context.WithTimeout(ctx, 5*h.opt.Beat)
		err := errors.Join(h.live(short), h.halt(short), h.bury(short), h.rescue(short))
		cancel()
		h.mu.Lock()
		was := h.silent
		h.silent = err != nil && ctx.Err() == nil
		now := h.silent
		h.mu.Unlock()
		switch {
		case now && !was:
			h.hooks.Say("The queue's database does not answer; measuring goes on and is reported later.")
		case was && !now && ctx.Err() == nil:
			h.hooks.Say("The queue's database answers again.")
		}
	}
}

// halt stops what is held by now.
func (h *Hand) halt(ctx context.Context) error {
	h.mu.Lock()
	idle := len(h.held) == 0
	h.mu.Unlock()
	if idle {
		return nil
	}
	held, err := h.q.Held(ctx)
	for run := range held {
		h.Interrupt(run)
	}
	return err
}

func (h *Hand) live(ctx context.Context) error {
	if h.opt.Jobs == 0 {
		return nil
	}
	n, err := h.q.exec(ctx, "update swathe_worker set seen = {now} where id = $1", h.id)
	if err == nil && n == 0 { // taken for lost meanwhile
		err = h.enter(ctx)
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
	_, err := h.q.exec(ctx, "delete from swathe_outcome where at < {now} - $1", (30 * 24 * time.Hour).Seconds())
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
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	p := &progress{run: run, doing: "starting", cancel: cancel}
	h.mu.Lock()
	h.held[job.ID] = p
	h.mu.Unlock()
	defer func() {
		h.mu.Lock()
		delete(h.held, job.ID)
		told := p.doing != "starting" || p.told
		h.mu.Unlock()
		if told {
			short, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
			defer cancel()
			_, _ = h.q.exec(short, "delete from swathe_progress where job = $1", job.ID)
		}
	}()
	if h.opt.Depot != nil {
		return h.remote(ctx, job, p, start)
	}
	l, item, err := h.find(run, job.Args)
	switch {
	case err != nil:
		return err // the set-up can't be read at present; it is tried again
	case l == nil:
		return river.JobCancel(fmt.Errorf("the recording of %s is no longer there", run))
	}
	if item.Refusal == nil && job.Attempt > 1 {
		if err := l.TidyRun(item.Run.Layout, item.Run.RunName.String()); err != nil {
			return err
		}
	}
	out, err := h.outcome(ctx, l, item, job, p)
	if err != nil {
		return err
	}
	return h.settle(ctx, p, out, start)
}

// outcome measures a recording, unless that may not be or was tried too often.
func (h *Hand) outcome(ctx context.Context, l *lab.Lab, item work.Item, job *river.Job[Job], p *progress) (out work.Outcome, err error) {
	out = work.Outcome{Run: job.Args.Run, Kind: work.Failed}
	switch {
	case job.Attempt > h.opt.Tries:
		return h.lastTry(ctx, l, item, job)
	case h.refused(item, &out):
	default:
		out = h.measure(ctx, l, item, job.Args, p)
	}
	return out, err
}

// settle tells what came of a job; what was stopped goes back, unless the user did it.
func (h *Hand) settle(ctx context.Context, p *progress, out work.Outcome, start time.Time) error {
	if out.Kind == work.Stopped {
		h.mu.Lock()
		halted := p.halted
		h.mu.Unlock()
		h.report(out)
		if halted {
			return river.JobCancel(errors.New("stopped by the user"))
		}
		return river.JobSnooze(0) // this worker ends; another takes it
	}
	// The result is there; what goes uncounted where this fails is only the rate.
	_, _ = h.q.exec(ctx, "insert into swathe_outcome (queue, run, kind, reason, worker, seconds, at) values ($1, $2, $3, $4, $5, $6, {now})",
		h.q.name, out.Run, string(out.Kind), out.Reason, h.id, time.Since(start).Seconds())
	h.report(out)
	return nil
}

func (h *Hand) report(out work.Outcome) {
	if h.hooks.Done == nil {
		return
	}
	h.tell.Lock()
	defer h.tell.Unlock()
	h.hooks.Done(out)
}

func (h *Hand) refused(item work.Item, out *work.Outcome) bool {
	if h.hooks.Refuse == nil {
		return false
	}
	if err := h.hooks.Refuse(item.Files()); err != nil {
		out.Reason = err.Error()
		return true
	}
	return false
}

func (h *Hand) measure(ctx context.Context, l *lab.Lab, item work.Item, job Job, p *progress) work.Outcome {
	watch := work.Watcher{
		Started: func(string) {
			if h.hooks.Began != nil {
				h.tell.Lock()
				defer h.tell.Unlock()
				h.hooks.Began(l, item)
			}
		},
		Progress: func(run string, t track.Progress) {
			h.mu.Lock()
			if !math.IsNaN(t.Share) {
				p.share = math.Max(0, math.Min(1, t.Share))
			}
			p.doing, p.told = cmp.Or(t.Doing, "measuring"), false
			h.mu.Unlock()
			if h.hooks.Progress != nil {
				h.tell.Lock()
				defer h.tell.Unlock()
				h.hooks.Progress(run, t)
			}
		},
	}
	opt := work.Options{Jobs: 1, Again: job.Again && job.Was == markOf(l, item), Anyway: job.How.Anyway, Eye: h.eye}
	return work.All(ctx, l, []work.Item{item}, opt, watch)[0]
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
// notes changed, the run is not known, or the set-up is not the one that the job
// was put in with: a share may be late to show what another machine wrote. What
// lab.yaml then says counts, and the result keeps it.
func (h *Hand) find(run string, job Job) (*lab.Lab, work.Item, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	sig := work.SetupSignature(h.q.Dir)
	if was, ok := h.items[run]; ok && sig == h.setup && job.How == h.how && stampOf(was.item) == was.stamp &&
		(h.differs[job.Setup] || setupOf(h.lab, was.item) == job.Setup) {
		return h.lab, was.item, nil
	}
	l, err := lab.Open(h.q.Dir)
	if err != nil {
		return nil, work.Item{}, err
	}
	if err := job.How.Apply(l); err != nil {
		return nil, work.Item{}, err
	}
	list, err := work.List(l, nil)
	if err != nil {
		return nil, work.Item{}, err
	}
	if sig != h.setup || h.differs == nil {
		h.differs = map[string]bool{}
	}
	h.differs[job.Setup] = true
	h.lab, h.how, h.setup, h.items = l, job.How, sig, map[string]listed{}
	for _, i := range list {
		h.items[i.ID()] = listed{i, stampOf(i)}
	}
	found, ok := h.items[run]
	if !ok {
		return nil, work.Item{}, nil
	}
	return l, found.item, nil
}
