// Package serve is the lab behind the local page: it watches the folder, puts what
// it finds into the queue, works on that beside others, reads results back and writes the set-up. It implements
// page.Lab; printing and options are the serve verb's.
package serve

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/overlay"
	"swathe/cmd/internal/queue"
	"swathe/cmd/internal/work"
	"swathe/report"
	"swathe/report/page"
	"swathe/track"
)

// Options says how a desk works.
type Options struct {
	Jobs   int           // recordings at once; 0 leaves them to other workers
	Settle time.Duration // how long a recording must stand still before its copy counts as finished
	Poll   time.Duration // how often the folders are looked through without a notice
	Queue  string        // address of the queue's database; empty is the lab's own file
	Store  string        // address of an object store that workers elsewhere work from; empty: they share the folder
	// Open reads the set-up; nil: lab.Open.
	Open func(dir string) (*lab.Lab, error)
	How  queue.How
	// Began, Progress and Told are told how the work goes; nil where nobody asks.
	// Began and Told are not called two at once.
	Began    func(run string)
	Progress func(run string, p track.Progress)
	Told     func(work.Outcome)
}

// DefaultOptions measures one recording at a time.
func DefaultOptions() Options {
	return Options{Jobs: 1, Settle: 3 * time.Second, Poll: 5 * time.Second}
}

// Validate refuses what makes no sense.
func (o Options) Validate() error {
	switch {
	case o.Jobs < 0:
		return fmt.Errorf("%d jobs at once; it should be 0 or more", o.Jobs)
	case o.Settle < 0 || o.Poll < 10*time.Millisecond:
		return errors.New("--settle should be 0 or more and --poll at least 10ms")
	}
	return nil
}

// Eye is the program that looks at pixels, as the page needs it.
type Eye struct {
	work.Eye
	Studio func(l *lab.Lab) overlay.Studio
	// Frames takes pictures from a recording.
	Frames func(ctx context.Context, q track.FrameRequest) ([]track.FramePicture, error)
	// Corners finds a chessboard in a frame.
	Corners func(ctx context.Context, q track.CornersRequest) (*track.CornersReply, error)
	// Length returns how long a recording is, s; NaN if it does not say.
	Length func(ctx context.Context, file string) (float64, error)
}

// Desk is the lab behind the page. It holds the lab's lock until Close.
type Desk struct {
	dir     string // absolute
	opt     Options
	eye     Eye
	say     func(format string, args ...any)
	release func()
	ctx     context.Context
	stop    context.CancelFunc
	wake    chan struct{}
	done    chan struct{}
	handed  chan struct{} // closed when hand is there or will never be
	frames  frameCache
	kept    keptCache
	setupMu sync.Mutex // one writer of lab.yaml at a time

	mu          sync.Mutex
	lab         *lab.Lab // nil while the set-up is missing or wrong
	problem     string   // why
	setup       string   // signature of the set-up as last read
	version     uint64
	items       map[string]work.Item
	state       map[string]string // by run, one of page's states
	handled     map[string]string // by run: signature under which it was last dealt with
	ready       map[string]string // signature when it was last put in turn
	outcome     map[string]work.Outcome
	order       []string // runs that are ready and to be looked at
	sorting     bool     // somebody does
	again       map[string]bool
	asked       map[string]int  // runs put into the queue: how often they were not found in it since
	settled     map[string]bool // done here, and perhaps still marked as worked on in the database
	active      map[string]*going
	held        map[string]bool // never changed in place: as the database has it
	changes     int             // grows with what is changed in the queue from here
	status      queue.Status
	trouble     string // why the queue does not work
	uncollected string // what was last told of the store; follow's
	queue       *queue.Queue
	hand        *queue.Hand // the desk's own worker; nil until it works
	bare        []string    // recordings seen while there was no set-up
	rows        []page.Row
	rowsAt      uint64
	running     sync.WaitGroup
}

// New opens the lab's folder, which need not hold a lab.yaml yet, takes its lock
// and begins to work. say tells what goes on.
func New(ctx context.Context, dir string, opt Options, eye Eye, say func(format string, args ...any)) (*Desk, error) {
	if err := opt.Validate(); err != nil {
		return nil, err
	}
	abs, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	if st, err := os.Stat(abs); err != nil || !st.IsDir() {
		return nil, fmt.Errorf("there is no folder %s. Make it (empty for a new lab) and try again", dir)
	}
	bare := &lab.Lab{Dir: abs}
	release, err := bare.Lock()
	if err != nil {
		return nil, err
	}
	d := &Desk{dir: abs, opt: opt, eye: eye, say: say, release: release, wake: make(chan struct{}, 1), done: make(chan struct{}), handed: make(chan struct{}),
		items: map[string]work.Item{}, state: map[string]string{}, handled: map[string]string{}, ready: map[string]string{}, again: map[string]bool{}, asked: map[string]int{}, settled: map[string]bool{},
		outcome: map[string]work.Outcome{}, active: map[string]*going{}, held: map[string]bool{}, setup: "not read"}
	if opt.Open == nil {
		d.opt.Open = lab.Open
	}
	d.ctx, d.stop = context.WithCancel(ctx)
	// The database and the folders do not wait for one another.
	opened := make(chan error, 1)
	go func() {
		var err error
		if d.queue, err = openQueue(ctx, abs, opt.Queue, say); err == nil {
			if err = d.takeOver(ctx); err == nil {
				d.held, err = d.queue.Held(ctx)
			}
			if err == nil && opt.Store != "" {
				err = d.queue.Share(ctx, opt.Store)
			}
		}
		opened <- err
	}()
	go report.WarmIndex(d.results())
	err = errors.Join(bare.Tidy(), os.MkdirAll(bare.RecordingsDir(), 0o755))
	if err == nil {
		d.current()
		_, _ = d.Rows() // so that the first page need not wait for what the index lacks
	}
	if err = errors.Join(err, <-opened); err != nil {
		d.stop()
		if d.queue != nil {
			d.queue.Close()
		}
		release()
		return nil, err
	}
	d.running.Add(1)
	go d.follow()
	go d.loop()
	go d.hands(ctx)
	return d, nil
}

// Close stops what is under way, which leaves nothing half-done and goes back to
// the queue, and gives the lock back.
func (d *Desk) Close() error {
	d.stop()
	<-d.done
	<-d.handed
	if d.hand != nil {
		d.hand.Drain(d.ctx)
	}
	d.running.Wait()
	d.mu.Lock()
	if d.lab != nil {
		d.lab.SaveHashes()
	}
	d.mu.Unlock()
	d.queue.Close()
	d.release()
	return nil
}

func (d *Desk) results() string { return filepath.Join(d.dir, "results") }

// nudge has the loop look at once.
func (d *Desk) nudge() {
	select {
	case d.wake <- struct{}{}:
	default:
	}
}

func (d *Desk) loop() {
	defer close(d.done)
	changed, err := work.Notices(d.ctx, d.dir)
	if err != nil {
		d.say("The system does not report changes (%v); the folders are searched regularly instead.", err)
	}
	still := work.NewStill(d.opt.Settle)
	for d.ctx.Err() == nil {
		waiting := d.round(still)
		pause := d.opt.Poll
		if waiting {
			pause = min(pause, max(d.opt.Settle/4, 20*time.Millisecond))
		}
		timer := time.NewTimer(pause)
		select {
		case <-d.ctx.Done():
		case <-timer.C:
		case <-d.wake:
		case <-changed:
			// A copy makes hundreds of notices a second.
			select {
			case <-d.ctx.Done():
			case <-time.After(min(pause, 200*time.Millisecond)):
			}
		}
		timer.Stop()
	}
}

// current reads the set-up anew if it changed.
func (d *Desk) current() {
	sig := work.SetupSignature(d.dir)
	d.mu.Lock()
	unchanged := sig == d.setup
	d.mu.Unlock()
	if unchanged {
		return
	}
	l, err := d.opt.Open(d.dir)
	d.mu.Lock()
	defer d.mu.Unlock()
	d.setup, d.lab, d.problem = sig, l, ""
	d.version++
	switch {
	case errors.Is(err, os.ErrNotExist), err != nil && sig == "":
		d.problem = "This lab has no lab.yaml yet. Set up its room and camera first. You can add recordings now."
	case err != nil:
		d.problem = "Fix the set-up; nothing is measured until then:\n" + err.Error()
	}
}

// round looks through the folders once and begins what can be begun; it tells
// whether something is still being copied.
func (d *Desk) round(still *work.Still) (waiting bool) {
	d.current()
	d.mu.Lock()
	l := d.lab
	d.mu.Unlock()
	if l == nil {
		d.forget()
		return false
	}
	list, err := work.List(l, nil)
	if err != nil {
		return false
	}
	type seen struct {
		item  work.Item
		sig   string
		ready bool
	}
	var looked []seen
	for _, item := range list {
		sig, ready := still.Look(l, item)
		looked = append(looked, seen{item, sig, ready})
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.lab != l {
		return true
	}
	there := map[string]bool{}
	for _, s := range looked {
		id := s.item.ID()
		there[id] = true
		d.items[id] = s.item
		_, asked := d.asked[id]
		switch {
		case d.active[id] != nil:
		case s.sig == d.handled[id] && !d.again[id]:
			d.leave(id)
		case d.held[id]:
			d.leave(id)
			d.put(id, page.Held)
		case asked:
		case !s.ready:
			waiting = true
			d.leave(id)
			d.put(id, page.Copying)
		default:
			d.ready[id] = s.sig
			if !slices.Contains(d.order, id) {
				d.order = append(d.order, id)
			}
			d.put(id, page.Waiting)
		}
	}
	for id := range d.state {
		if !there[id] && d.active[id] == nil {
			delete(d.state, id)
			delete(d.items, id)
			delete(d.handled, id)
			delete(d.outcome, id)
			delete(d.ready, id)
			delete(d.asked, id)
			d.leave(id)
			d.version++
		}
	}
	if len(d.order) > 0 && !d.sorting && d.ctx.Err() == nil {
		d.sorting = true
		d.running.Add(1)
		go d.sort()
	}
	return waiting
}

// forget empties the queue in memory while there is no set-up to measure with.
func (d *Desk) forget() {
	files, _ := filepath.Glob(filepath.Join(d.dir, "recordings", "*", "*"))
	d.mu.Lock()
	defer d.mu.Unlock()
	if len(d.order) > 0 || !slices.Equal(files, d.bare) {
		d.version++
	}
	d.bare = files
	d.order, d.ready = nil, map[string]string{}
	for id, s := range d.state {
		if s == page.Waiting || s == page.Copying {
			delete(d.state, id)
		}
	}
}

func (d *Desk) put(id, state string) {
	if d.state[id] != state {
		d.state[id] = state
		d.version++
	}
}

// leave takes a run out of those that are to be looked at.
func (d *Desk) leave(id string) {
	d.order = slices.DeleteFunc(d.order, func(o string) bool { return o == id })
}

// fileSignature is the part of a signature that speaks of the recordings.
func fileSignature(sig string) string { return sig[:strings.IndexByte(sig, 0)+1] }

func colon(s string) string {
	if s == "" {
		return ""
	}
	return ": " + s
}

// confined refuses recordings that are links out of the lab: what the page shows
// and measures lies in it.
func (d *Desk) confined(files []string) error {
	home, err := filepath.EvalSymlinks(d.dir)
	if err != nil {
		return err
	}
	for _, f := range files {
		real, err := filepath.EvalSymlinks(f)
		if err != nil {
			continue // gone; told by whoever opens it
		}
		if rel, err := filepath.Rel(home, real); err != nil || rel == ".." || strings.HasPrefix(rel, "../") {
			return fmt.Errorf("%s is a link that leads out of the lab's folder, and the page measures only what is in it. Copy the recording here, or use swathe measure", filepath.Base(f))
		}
	}
	return nil
}
