package serve

import (
	"context"
	"encoding/json"
	"maps"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"time"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/queue"
	"swathe/cmd/internal/work"
	"swathe/report"
	"swathe/report/page"
	"swathe/track"
)

// oldQueue is the file in which versions before River kept what was stopped and
// what was asked for again.
const oldQueue = ".queue.json"

// beats of the desk's own worker: the database is near, and so is the reader.
const (
	followEvery = time.Second
	askWithin   = 10 * time.Second
	// deskTries is higher than a worker's: who stops the page's program hard, or
	// whose power fails, blames no recording.
	deskTries = 20
	// A store is looked through this often for results that nobody told of, in
	// rounds of following the queue; sending a large recording there takes long.
	collectEvery = 20
	sendWithin   = 2 * time.Hour
)

// takeOver reads the file of an older version once.
func (d *Desk) takeOver(ctx context.Context) error {
	file := filepath.Join(d.results(), oldQueue)
	raw, err := os.ReadFile(file)
	if err != nil {
		return nil
	}
	var old struct{ Held, Again []string }
	_ = json.Unmarshal(raw, &old) // a damaged file costs what it remembered
	for _, run := range old.Held {
		if err := d.queue.Hold(ctx, run); err != nil {
			return err
		}
	}
	for _, run := range old.Again {
		d.again[run] = true
	}
	if d.queue.Memory {
		return nil
	}
	return os.Remove(file)
}

// hands starts the desk's own worker, as soon as the database lets it.
func (d *Desk) hands(ctx context.Context) {
	defer close(d.handed)
	for d.ctx.Err() == nil {
		h, err := d.work(ctx)
		d.mu.Lock()
		if err == nil {
			d.hand = h
			d.mu.Unlock()
			return
		}
		d.queueLost(err)
		d.mu.Unlock()
		select {
		case <-d.ctx.Done():
		case <-time.After(followEvery):
		}
	}
}

func (d *Desk) work(ctx context.Context) (*queue.Hand, error) {
	opt := queue.DefaultOptions()
	opt.Jobs, opt.Tries = d.opt.Jobs, deskTries
	return d.queue.Work(ctx, opt, d.eye.Eye, queue.Hooks{
		Refuse: d.confined, Say: d.say,
		Began: func(l *lab.Lab, item work.Item) {
			d.mu.Lock()
			defer d.mu.Unlock()
			g := newGoing(item.ID(), item, l)
			d.active[g.id] = g
			d.leave(g.id)
			d.put(g.id, page.Measuring)
			if d.opt.Began != nil {
				d.opt.Began(g.id)
			}
		},
		Progress: func(run string, p track.Progress) {
			d.mu.Lock()
			g := d.active[run]
			d.mu.Unlock()
			if g != nil {
				g.tell(p)
			}
			if d.opt.Progress != nil {
				d.opt.Progress(run, p)
			}
		},
		Done: func(o work.Outcome) { d.settle(o, true) },
	})
}

// settle notes what came of a run; here says that this program measured it.
func (d *Desk) settle(out work.Outcome, here bool) {
	told := out
	out.Coverage, out.Doubt, out.Trace = nil, nil, nil // large, and read back when wanted
	d.mu.Lock()
	id := out.Run
	delete(d.active, id)
	delete(d.asked, id)
	d.leave(id)
	d.version++
	if here {
		d.settled[id] = true
		d.changes++
	}
	if out.Kind != work.Stopped {
		d.outcome[id] = out
		// The result is part of the signature, so it is taken once more; what
		// has changed meanwhile differs and is measured again.
		if item, ok := d.items[id]; ok && d.lab != nil {
			d.handled[id] = fileSignature(d.ready[id]) + item.Signature(d.lab)
		}
		d.kept.drop(id)
	}
	switch out.Kind {
	case work.Measured, work.UpToDate:
		d.state[id] = page.Measured
	case work.Stopped:
		d.state[id] = page.Held
	default:
		d.state[id] = page.Failed
	}
	d.mu.Unlock()
	if d.opt.Told != nil {
		d.opt.Told(told)
	} else if out.Kind == work.Measured && here || out.Kind == work.Failed {
		d.say("%s: %s%s", out.Run, out.Kind, colon(out.Reason))
	}
	d.nudge()
}

// sort goes through the runs that are ready: what is up to date is noted, the
// rest is put into the queue. It is one goroutine's; reading the hash of a new
// recording may take it long.
func (d *Desk) sort() {
	defer d.running.Done()
	for {
		d.mu.Lock()
		if len(d.order) == 0 || d.ctx.Err() != nil || d.lab == nil {
			d.sorting = false
			if d.lab != nil {
				d.lab.SaveHashes()
			}
			d.mu.Unlock()
			return
		}
		id := d.order[0]
		item, l, again := d.items[id], d.lab, d.again[id]
		d.mu.Unlock()
		err := d.sortOne(id, item, l, again)
		d.mu.Lock()
		if err != nil && d.ctx.Err() == nil {
			d.sorting = false // it is tried again at the next round
			d.queueLost(err)
			d.mu.Unlock()
			return
		}
		d.leave(id)
		d.mu.Unlock()
	}
}

func (d *Desk) sortOne(id string, item work.Item, l *lab.Lab, again bool) error {
	if item.Refusal != nil {
		d.settle(work.All(d.ctx, l, []work.Item{item}, work.Options{}, work.Watcher{})[0], false)
		return nil
	}
	if s, err := l.Status(item.Run); err == nil && !again {
		out := work.Outcome{Run: id, Differs: s.Differs, Reason: s.Why}
		switch {
		case s.Verdict == lab.UpToDate && s.Labels: // written anew, not measured
			d.settle(work.All(d.ctx, l, []work.Item{item}, work.Options{}, work.Watcher{})[0], false)
			return nil
		case s.Verdict == lab.UpToDate:
			out.Kind, out.Reason, out.Result = work.UpToDate, "", l.Rel(l.ResultDir(item.Run.Layout, item.Run.RunName.String()))
			d.settle(out, false)
			return nil
		case s.Verdict == lab.FailedBefore && !(d.opt.How.Anyway && s.Failed.Kind == string(track.TooLittleSeen)):
			out.Kind = work.FailedBefore
			d.settle(out, false)
			return nil
		}
	}
	d.mu.Lock()
	delete(d.again, id)
	d.mu.Unlock()
	err := d.ask(id, l, item, queue.Ask{Again: again, How: d.opt.How})
	if err != nil && again {
		d.mu.Lock()
		d.again[id] = true
		d.mu.Unlock()
	}
	return err
}

// ask puts a run into the queue.
func (d *Desk) ask(run string, l *lab.Lab, item work.Item, how queue.Ask) error {
	patience := askWithin
	if d.queue.Store != nil {
		patience = sendWithin
	}
	ctx, cancel := context.WithTimeout(d.ctx, patience)
	defer cancel()
	d.mu.Lock()
	d.asked[run] = 0
	delete(d.settled, run)
	d.changes++
	d.mu.Unlock()
	_, err := d.queue.Put(ctx, l, item, how)
	d.mu.Lock()
	defer d.mu.Unlock()
	d.changes++
	if err != nil {
		delete(d.asked, run)
	}
	return err
}

// queueLost notes that the database does not answer; d.mu is held.
func (d *Desk) queueLost(err error) {
	if d.trouble == "" {
		d.trouble = "The queue's database does not answer. Recordings under way are finished; nothing new is begun until it does."
		d.version++
		d.say("%s (%v)", d.trouble, err)
	}
}

// follow keeps what the page shows in step with the queue, which other programs
// work on too.
func (d *Desk) follow() {
	defer d.running.Done()
	tick := time.NewTicker(followEvery)
	defer tick.Stop()
	for n := 0; ; n++ {
		if n%collectEvery == 0 {
			d.collect()
		}
		d.mu.Lock()
		changes := d.changes
		d.mu.Unlock()
		ctx, cancel := context.WithTimeout(d.ctx, askWithin)
		s, err := d.queue.Status(ctx, queue.DefaultOptions())
		cancel()
		if d.ctx.Err() != nil {
			return
		}
		if err != nil {
			d.mu.Lock()
			d.queueLost(err)
			d.mu.Unlock()
		} else {
			d.inStep(s, changes)
		}
		select {
		case <-d.ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// inStep takes in how the queue stood; what changed here since it was asked is
// newer than that.
func (d *Desk) inStep(s queue.Status, changes int) {
	gone := []string{}
	d.mu.Lock()
	if d.trouble != "" {
		d.trouble = ""
		d.version++
	}
	d.status = s
	if changes == d.changes {
		if !maps.Equal(d.held, s.Held) {
			d.held = s.Held
			d.nudge()
		}
		busy := map[string]bool{}
		for _, run := range s.Waiting {
			busy[run] = true
		}
		for run := range d.settled {
			if !slices.Contains(s.Taken, run) {
				delete(d.settled, run)
			}
		}
		for _, run := range s.Taken {
			busy[run] = true
			if _, ok := d.items[run]; ok && d.active[run] == nil && !d.settled[run] {
				d.put(run, page.Measuring)
				d.asked[run] = 0
			}
		}
		for run := range d.asked {
			switch {
			case busy[run] || d.active[run] != nil:
				d.asked[run] = 0
			case d.asked[run] == 0: // it may just have been on its way from one to the other
				d.asked[run]++
			default:
				gone = append(gone, run)
			}
		}
	}
	d.mu.Unlock()
	for _, run := range gone {
		d.ended(run)
	}
}

// collect takes results out of the store, if there is one; only follow calls it.
func (d *Desk) collect() {
	if d.queue.Store == nil {
		return
	}
	runs, err := d.queue.Store.Collect(d.ctx, &lab.Lab{Dir: d.dir})
	if len(runs) > 0 {
		d.nudge()
	}
	told := ""
	if err != nil && d.ctx.Err() == nil {
		told = err.Error()
		if told != d.uncollected {
			d.say("%s.", told)
		}
	}
	d.uncollected = told
}

// ended takes in what another worker did with a run.
func (d *Desk) ended(run string) {
	d.collect()
	ctx, cancel := context.WithTimeout(d.ctx, askWithin)
	defer cancel()
	kind, reason, err := d.queue.LastOutcome(ctx, run, 30*followEvery)
	if err != nil {
		return
	}
	if kind == string(work.Failed) {
		d.settle(work.Outcome{Run: run, Kind: work.Failed, Reason: reason}, false)
		return
	}
	d.mu.Lock()
	delete(d.asked, run)
	d.leave(run)
	delete(d.handled, run) // its files are looked at
	d.kept.drop(run)
	d.version++
	d.mu.Unlock()
	d.nudge()
}

// Measure asks for a run.
func (d *Desk) Measure(run string, again bool) error {
	d.mu.Lock()
	item, ok := d.items[run]
	l, state := d.lab, d.state[run]
	measuring := d.active[run] != nil
	d.mu.Unlock()
	if !ok || l == nil {
		return page.Refuse(http.StatusNotFound, "There is no recording of %s in this lab, or the set-up can't be used.", run)
	}
	if measuring {
		return nil
	}
	ctx, cancel := context.WithTimeout(d.ctx, askWithin)
	defer cancel()
	if d.queue.Release(ctx, run) != nil {
		return d.unanswered()
	}
	d.mu.Lock()
	d.held = maps.Clone(d.held)
	delete(d.held, run)
	d.changes++
	d.version++
	now := state != page.Copying && item.Refusal == nil
	if now {
		d.put(run, page.Waiting)
	} else if again {
		d.again[run] = true
	}
	d.mu.Unlock()
	d.nudge()
	if now && d.ask(run, l, item, queue.Ask{Again: again, First: true, How: d.opt.How}) != nil {
		return d.unanswered()
	}
	return nil
}

// free lets a run begin again by itself.
func (d *Desk) free(run string) error {
	ctx, cancel := context.WithTimeout(d.ctx, askWithin)
	defer cancel()
	if d.queue.Release(ctx, run) != nil {
		return d.unanswered()
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.held = maps.Clone(d.held)
	delete(d.held, run)
	d.changes++
	return nil
}

func (d *Desk) unanswered() error {
	return page.Refuse(http.StatusServiceUnavailable, "The queue's database does not answer. Try again when it does.")
}

// Stop ends a run, or takes it out of those that wait.
func (d *Desk) Stop(run string) error {
	d.mu.Lock()
	_, ok := d.items[run]
	st, active, again := d.state[run], d.active[run] != nil, d.again[run]
	d.mu.Unlock()
	if !ok {
		return page.Refuse(http.StatusNotFound, "There is no recording of %s in this lab.", run)
	}
	if !active && !again && st != page.Waiting && st != page.Copying && st != page.Measuring {
		return nil // done meanwhile: there is nothing to stop
	}
	return d.hold(run)
}

// hold ends what is done with a run and keeps it from beginning by itself.
func (d *Desk) hold(run string) error {
	d.mu.Lock()
	hand := d.hand
	d.mu.Unlock()
	ctx, cancel := context.WithTimeout(d.ctx, askWithin)
	defer cancel()
	if hand != nil {
		hand.Interrupt(run)
	}
	if _, err := d.queue.Cancel(ctx, run); err != nil {
		return d.unanswered()
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.held = maps.Clone(d.held)
	d.held[run] = true
	d.changes++
	delete(d.again, run)
	delete(d.asked, run)
	if d.active[run] == nil {
		d.leave(run)
		d.put(run, page.Held)
	}
	d.version++
	d.nudge()
	return nil
}

// Pause has workers finish what they have and take nothing new, or go on.
func (d *Desk) Pause(pause bool) error {
	ctx, cancel := context.WithTimeout(d.ctx, askWithin)
	defer cancel()
	var err error
	if pause {
		err = d.queue.Pause(ctx)
	} else {
		err = d.queue.Resume(ctx)
	}
	if err != nil {
		return d.unanswered()
	}
	d.mu.Lock()
	d.status.Paused = pause
	d.version++
	d.mu.Unlock()
	return nil
}

// Arrived has the loop look for a recording that was received.
func (d *Desk) Arrived() { d.nudge() }

// Queue returns the queue, for what reads it besides the page.
func (d *Desk) Queue() *queue.Queue { return d.queue }

// workers is the queue as the page shows it; d.mu is held.
func (d *Desk) workers() page.Queue {
	s := d.status
	q := page.Queue{Paused: s.Paused, Trouble: d.trouble, Elsewhere: s.Elsewhere, PerMinute: s.PerMinute, RemainingS: report.NaN, Workers: []page.Worker{}}
	if !math.IsNaN(s.RemainingS) {
		q.RemainingS = s.RemainingS
	}
	for _, w := range s.Workers {
		p := page.Worker{Name: w.Name(), Jobs: w.Jobs, Draining: w.Draining, Doing: []page.Doing{}}
		for _, g := range w.Doing {
			p.Doing = append(p.Doing, page.Doing{Run: g.Run, Share: g.Share})
		}
		q.Workers = append(q.Workers, p)
	}
	return q
}

// waiting lists the runs that wait, in turn; d.mu is held.
func (d *Desk) waiting() []string {
	out := []string{}
	for _, run := range d.status.Waiting {
		if d.active[run] == nil && !d.held[run] {
			out = append(out, run)
		}
	}
	for _, run := range d.order {
		if _, ok := d.asked[run]; !ok {
			out = append(out, run)
		}
	}
	return out
}

// openQueue opens the lab's own queue, or the one at an address.
func openQueue(ctx context.Context, dir, address string, say func(format string, args ...any)) (*queue.Queue, error) {
	if address == "" {
		return queue.OpenAnyhow(ctx, dir, say)
	}
	return queue.Open(ctx, dir, address)
}
