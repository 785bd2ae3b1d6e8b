package queue

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/rivertype"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
)

// Job is one recording to be measured.
type Job struct {
	Run   string `json:"run" river:"unique"` // <layout>/<robot>_<phase>_<trial>
	Setup string `json:"setup"`              // hash of the set-up that it is to be measured with; empty where the run is none
	Again bool   `json:"again"`              // although there is a result
}

// Kind names the kind of job in the database.
func (Job) Kind() string { return "measure" }

// Turns: what somebody waits for at the page goes before what merely has no
// result yet.
const (
	turnFirst = 1
	turnUsual = 2
)

// open are the states in which a job is not done.
var open = []rivertype.JobState{rivertype.JobStateAvailable, rivertype.JobStatePending, rivertype.JobStateRunning, rivertype.JobStateRetryable, rivertype.JobStateScheduled}

// Put puts a run in, or moves it to the front where first asks for it and it
// waits already. It tells whether the run is new in the queue.
func (q *Queue) Put(ctx context.Context, l *lab.Lab, item work.Item, again, first bool) (bool, error) {
	j := Job{Run: item.ID(), Setup: setupOf(l, item), Again: again}
	turn := turnUsual
	if first {
		turn = turnFirst
	}
	res, err := q.put.Insert(ctx, j, &river.InsertOpts{Queue: q.name, Priority: turn, MaxAttempts: 1000,
		UniqueOpts: river.UniqueOpts{ByArgs: true, ByQueue: true, ByState: open}})
	if err != nil {
		return false, fmt.Errorf("%s can't be put into the queue: %w", j.Run, err)
	}
	if res.UniqueSkippedAsDuplicate && first {
		_, err = q.exec(ctx, "update river_job set priority = $1 where id = $2 and state <> 'running'", turnFirst, res.Job.ID)
	}
	return !res.UniqueSkippedAsDuplicate, err
}

// setupOf is the hash of the set-up that a run belongs to.
func setupOf(l *lab.Lab, item work.Item) string {
	if item.Refusal != nil {
		return ""
	}
	return l.SetupHash(item.Run.Layout, item.Run.Robot, l.CameraOf(item.Run))
}

// Fill puts in all runs that have no up-to-date result, and tells how many are
// new. It reads no recording whose hash is known.
func (q *Queue) Fill(ctx context.Context, l *lab.Lab, items []work.Item, again bool) (int, error) {
	n := 0
	for _, item := range items {
		if item.Refusal == nil && !again {
			s, err := l.Status(item.Run)
			if err == nil && (s.Verdict == lab.UpToDate || s.Verdict == lab.FailedBefore) {
				continue
			}
		}
		fresh, err := q.Put(ctx, l, item, again, false)
		if err != nil {
			return n, err
		}
		if fresh {
			n++
		}
	}
	l.SaveHashes()
	return n, nil
}

// Open counts the jobs of this analysis version that are not done.
func (q *Queue) Open(ctx context.Context) (n int, err error) {
	err = q.query(ctx, func(r *sql.Rows) error { return r.Scan(&n) },
		"select count(*) from river_job where queue = $1 and state in ('available', 'retryable', 'scheduled', 'pending', 'running')", q.name)
	return n, err
}

// Cancel takes a run out, whether it waits or is worked on.
func (q *Queue) Cancel(ctx context.Context, run string) (bool, error) {
	ids, err := q.idsOf(ctx, run)
	for _, id := range ids {
		if err == nil {
			_, err = q.put.JobCancel(ctx, id)
		}
	}
	return len(ids) > 0, err
}

// First moves a waiting run to the front.
func (q *Queue) First(ctx context.Context, run string) (bool, error) {
	n, err := q.exec(ctx, "update river_job set priority = $1 where queue = $2 and {run} = $3 and state in ('available', 'retryable', 'scheduled', 'pending')", turnFirst, q.name, run)
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

// Pause lets workers finish what they have and take nothing new.
func (q *Queue) Pause(ctx context.Context) error { return q.put.QueuePause(ctx, q.name, nil) }

// Resume ends a pause.
func (q *Queue) Resume(ctx context.Context) error { return q.put.QueueResume(ctx, q.name, nil) }

// Worker is one that takes jobs.
type Worker struct {
	ID, Host string
	PID      int
	Jobs     int     // at once
	Draining bool    // finishes what it has, takes nothing new
	SilentS  float64 // since its last sign of life, s
	Doing    []Doing
}

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
	// Elsewhere is how many jobs wait for a program of another analysis version.
	Elsewhere  int
	DoneLast   int     // recordings of the last ten minutes
	PerMinute  float64 // of those
	RemainingS float64 // until the queue is empty at that rate, s; NaN where nothing tells
}

// rateSpan is the time that a rate is taken over.
const rateSpan = 10 * time.Minute
