package queue

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/rivertype"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/store"
	"swathe/cmd/internal/work"
)

// Job is one recording to be measured.
type Job struct {
	Run   string `json:"run" river:"unique"` // <layout>/<robot>_<phase>_<trial>
	Setup string `json:"setup"`              // hash of the set-up that it was put in with; empty where the run is none
	// Again asks for a measurement although there is a result; Was is the mark of
	// that result, so that a job whose worker died after it wrote is not begun anew.
	Again bool   `json:"again,omitempty"`
	Was   string `json:"was,omitempty"`
	How   How    `json:"how"`
	// Files are what the measurement depends on, for workers that have them from a
	// store; empty where all share the lab's folder.
	Files []store.File `json:"files,omitempty"`
}

// How says what differs from the lab's own settings.
type How struct {
	Cell   string `json:"cell,omitempty"`
	Draws  string `json:"draws,omitempty"`
	Anyway bool   `json:"anyway,omitempty"` // also what was seen too little
}

// Apply puts the settings into a lab.
func (h How) Apply(l *lab.Lab) error {
	for _, s := range [][2]string{{"cell", h.Cell}, {"draws", h.Draws}} {
		if s[1] == "" {
			continue
		}
		if err := l.Settings.Set(s[0], s[1]); err != nil {
			return err
		}
	}
	return nil
}

// Ask says how a run is put in.
type Ask struct {
	Again bool
	First bool // before what nobody waits for
	How   How
}

// Kind names the kind of job in the database.
func (Job) Kind() string { return "measure" }

// Turns: what somebody waits for at the page goes before what merely has no
// result yet.
const (
	turnFirst = 1
	turnUsual = 2
)

// openStates are the states in which a job is not done.
var openStates = []rivertype.JobState{rivertype.JobStateAvailable, rivertype.JobStatePending, rivertype.JobStateRunning, rivertype.JobStateRetryable, rivertype.JobStateScheduled}

// Put puts a run in, or moves it to the front where First asks for it and it
// waits already. It tells whether the run is new in the queue.
func (q *Queue) Put(ctx context.Context, l *lab.Lab, item work.Item, ask Ask) (bool, error) {
	n, err := q.putMany(ctx, l, []work.Item{item}, ask)
	if err != nil {
		return false, fmt.Errorf("%s can't be put into the queue: %w", item.ID(), err)
	}
	return n > 0, nil
}

// putMany puts runs in, all or none, and tells how many are new.
func (q *Queue) putMany(ctx context.Context, l *lab.Lab, items []work.Item, ask Ask) (fresh int, err error) {
	turn := turnUsual
	if ask.First {
		turn = turnFirst
	}
	var list []river.InsertManyParams
	for _, item := range items {
		j := Job{Run: item.ID(), Setup: setupOf(l, item), Again: ask.Again, How: ask.How}
		if ask.Again {
			j.Was = markOf(l, item)
			// One that waits asks for less, and makes room.
			if _, err := q.exec(ctx, "delete from river_job where queue = $1 and {run} = $2 and "+waits, q.name, j.Run); err != nil {
				return 0, err
			}
		}
		if q.Store != nil {
			if j.Files, err = q.Store.Send(ctx, l, item); err != nil {
				return 0, err
			}
		}
		list = append(list, river.InsertManyParams{Args: j, InsertOpts: &river.InsertOpts{Queue: q.name, Priority: turn, MaxAttempts: 1000,
			UniqueOpts: river.UniqueOpts{ByArgs: true, ByQueue: true, ByState: openStates}}})
	}
	res, err := q.put().InsertMany(ctx, list)
	for _, r := range res {
		if !r.UniqueSkippedAsDuplicate {
			fresh++
		} else if ask.First && err == nil {
			_, err = q.exec(ctx, "update river_job set priority = $1 where id = $2 and state <> 'running'", turnFirst, r.Job.ID)
		}
	}
	return fresh, err
}

// together is how many runs are put in by one transaction: it costs a tenth of one
// for each, and a worker need not wait for the last before it begins the first.
const together = 100

// waits picks the jobs that wait.
const waits = "state in ('available', 'retryable', 'scheduled', 'pending')"

// markOf changes whenever the result of a run is written anew; empty without one.
func markOf(l *lab.Lab, item work.Item) string {
	if item.Refusal != nil {
		return ""
	}
	st, err := os.Stat(filepath.Join(l.ResultDir(item.Run.Layout, item.Run.RunName.String()), lab.MadeName))
	if err != nil {
		return ""
	}
	return strconv.FormatInt(st.ModTime().UnixNano(), 10)
}

// setupOf is the hash of the set-up that a run belongs to.
func setupOf(l *lab.Lab, item work.Item) string {
	if item.Refusal != nil {
		return ""
	}
	return l.SetupHash(item.Run.Layout, item.Run.Robot, l.CameraOf(item.Run))
}

// Fill puts in all runs that have no up-to-date result and were not stopped, and
// tells how many are new, and how many were left out for being stopped. It reads
// no recording whose hash is known.
func (q *Queue) Fill(ctx context.Context, l *lab.Lab, items []work.Item, ask Ask) (n, stopped int, err error) {
	held, err := q.Held(ctx)
	if err != nil {
		return 0, 0, err
	}
	seen := map[string]bool{}
	var list []work.Item
	for i, item := range items {
		up := false
		if item.Refusal == nil && !ask.Again {
			s, err := l.Status(item.Run)
			up = err == nil && (s.Verdict == lab.UpToDate && !s.Labels || s.Verdict == lab.FailedBefore)
		}
		switch {
		case up || seen[item.ID()]:
		case held[item.ID()]:
			stopped++
		case item.Refusal != nil && q.Store != nil: // noted here; there is nothing to send
			work.All(ctx, l, []work.Item{item}, work.Options{}, work.Watcher{})
		default:
			list = append(list, item)
		}
		seen[item.ID()] = true
		if len(list) == together || i == len(items)-1 && len(list) > 0 {
			fresh, err := q.putMany(ctx, l, list, ask)
			if err != nil {
				return n, stopped, fmt.Errorf("%s can't be put into the queue: %w", list[0].ID(), err)
			}
			n, list = n+fresh, nil
		}
	}
	l.SaveHashes()
	return n, stopped, nil
}

// Held returns the runs that were stopped and are not begun until asked for.
func (q *Queue) Held(ctx context.Context) (map[string]bool, error) {
	held := map[string]bool{}
	err := q.query(ctx, func(r *sql.Rows) error {
		var run string
		err := r.Scan(&run)
		held[run] = true
		return err
	}, "select run from swathe_held where lab = $1", q.lab)
	return held, err
}

// Hold has a run not be begun until it is asked for.
func (q *Queue) Hold(ctx context.Context, run string) error {
	_, err := q.exec(ctx, "insert into swathe_held (lab, run) values ($1, $2) on conflict do nothing", q.lab, run)
	return err
}

// Release ends that.
func (q *Queue) Release(ctx context.Context, run string) error {
	_, err := q.exec(ctx, "delete from swathe_held where lab = $1 and run = $2", q.lab, run)
	return err
}

// Open counts the jobs of this analysis version that are not done.
func (q *Queue) Open(ctx context.Context) (n int, err error) {
	err = q.query(ctx, func(r *sql.Rows) error { return r.Scan(&n) },
		"select count(*) from river_job where queue = $1 and state in ('available', 'retryable', 'scheduled', 'pending', 'running')", q.name)
	return n, err
}

// Cancel takes a run out, whether it waits or is worked on, and holds it. It tells
// whether it was in the queue.
func (q *Queue) Cancel(ctx context.Context, run string) (bool, error) {
	if err := q.Hold(ctx, run); err != nil {
		return false, err
	}
	ids, err := q.idsOf(ctx, run)
	for _, id := range ids {
		if err == nil {
			_, err = q.put().JobCancel(ctx, id)
		}
	}
	return len(ids) > 0, err
}

// First moves a waiting run to the front.
func (q *Queue) First(ctx context.Context, run string) (bool, error) {
	n, err := q.exec(ctx, "update river_job set priority = $1 where queue = $2 and {run} = $3 and "+waits, turnFirst, q.name, run)
	return n > 0, err
}

func (q *Queue) idsOf(ctx context.Context, run string) (ids []int64, err error) {
	err = q.query(ctx, func(r *sql.Rows) error {
		var id int64
		if err := r.Scan(&id); err != nil {
			return err
		}
		ids = append(ids, id)
		return nil
	}, "select id from river_job where queue = $1 and {run} = $2 and state in ('available', 'retryable', 'scheduled', 'pending', 'running')", q.name, run)
	return ids, err
}

// Pause lets workers finish what they have and take nothing new, those too that
// start later.
func (q *Queue) Pause(ctx context.Context) error {
	// River knows a queue from its first worker on.
	if _, err := q.exec(ctx, "insert into river_queue (name, created_at, updated_at) values ($1, current_timestamp, current_timestamp) on conflict do nothing", q.name); err != nil {
		return err
	}
	return q.put().QueuePause(ctx, q.name, nil)
}

// Resume ends a pause.
func (q *Queue) Resume(ctx context.Context) error { return q.put().QueueResume(ctx, q.name, nil) }

// LastOutcome returns what came of a run that was worked on within a time; an empty
// kind if it was not.
func (q *Queue) LastOutcome(ctx context.Context, run string, within time.Duration) (kind, reason string, err error) {
	err = q.query(ctx, func(r *sql.Rows) error { return r.Scan(&kind, &reason) },
		"select kind, reason from swathe_outcome where queue = $1 and run = $2 and at > {now} - $3 order by at desc limit 1", q.name, run, within.Seconds())
	return kind, reason, err
}

// Worker is one that takes jobs.
type Worker struct {
	ID, Host string
	PID      int
	Jobs     int     // at once
	Draining bool    // finishes what it has, takes nothing new
	SilentS  float64 // since its last sign of life, s
	Doing    []Doing
}

// Name is how a worker is called where people read.
func (w Worker) Name() string { return fmt.Sprintf("%s, process %d", w.Host, w.PID) }

// Doing is a job under way.
type Doing struct {
	Run   string
	Share float64 // 0..1
	What  string
}

// Status is what is known of a queue at a moment.
type Status struct {
	Paused  bool
	Workers []Worker
	Waiting []string // runs in their turn
	Taken   []string // runs that a worker has
	Held    map[string]bool
	// Elsewhere is how many jobs wait for a program of another analysis version.
	Elsewhere  int
	DoneLast   int     // recordings of the last ten minutes
	PerMinute  float64 // of those
	RemainingS float64 // until the queue is empty at that rate, s; NaN where nothing tells
}

// rateSpan is the time that a rate is taken over.
const rateSpan = 10 * time.Minute
