package queue

import (
	"context"
	"database/sql"
	"math"
	"strconv"
	"strings"

	"swathe/cmd/internal/lab"
)

// Status looks at the queue. Workers that count as lost by lost, s, are left out.
func (q *Queue) Status(ctx context.Context, opt Options) (s Status, err error) {
	s.RemainingS, s.Held = math.NaN(), map[string]bool{}
	at := map[string]int{}
	steps := []struct {
		query string
		args  []any
		each  func(*sql.Rows) error
	}{
		{"select id, host, pid, jobs, draining, {now} - seen from swathe_worker where queue = $1 and seen > {now} - $2 order by started, id",
			[]any{q.name, opt.Lost.Seconds()}, func(r *sql.Rows) error {
				var w Worker
				var draining int
				err := r.Scan(&w.ID, &w.Host, &w.PID, &w.Jobs, &draining, &w.SilentS)
				w.Draining, w.SilentS = draining != 0, math.Max(0, w.SilentS)
				at[w.ID] = len(s.Workers)
				s.Workers = append(s.Workers, w)
				return err
			}},
		{"select worker, run, share, doing from swathe_progress order by run", nil, func(r *sql.Rows) error {
			var worker string
			var d Doing
			if err := r.Scan(&worker, &d.Run, &d.Share, &d.What); err != nil {
				return err
			}
			if i, ok := at[worker]; ok {
				s.Workers[i].Doing = append(s.Workers[i].Doing, d)
			}
			return nil
		}},
		{"select {run} from river_job where queue = $1 and state in ('available', 'retryable', 'scheduled', 'pending') order by priority, scheduled_at, id",
			[]any{q.name}, func(r *sql.Rows) error {
				var run string
				err := r.Scan(&run)
				s.Waiting = append(s.Waiting, run)
				return err
			}},
		{"select run from swathe_held where lab = $1", []any{q.lab}, func(r *sql.Rows) error {
			var run string
			err := r.Scan(&run)
			s.Held[run] = true
			return err
		}},
		{"select {run} from river_job where queue = $1 and state = 'running'", []any{q.name}, func(r *sql.Rows) error {
			var run string
			err := r.Scan(&run)
			s.Taken = append(s.Taken, run)
			return err
		}},
		{"select queue, count(*) from river_job where queue like $1 and queue <> $2 and state in ('available', 'retryable', 'scheduled', 'pending') group by queue",
			[]any{q.name[:strings.LastIndexByte(q.name, '-')+1] + "%", q.name}, func(r *sql.Rows) error {
				var name string
				var n int
				err := r.Scan(&name, &n)
				s.Elsewhere += n
				return err
			}},
		{"select count(*) from swathe_outcome where queue = $1 and at > {now} - $2", []any{q.name, rateSpan.Seconds()}, func(r *sql.Rows) error {
			return r.Scan(&s.DoneLast)
		}},
		{"select count(*) from river_queue where name = $1 and paused_at is not null", []any{q.name}, func(r *sql.Rows) error {
			var n int
			err := r.Scan(&n)
			s.Paused = n > 0
			return err
		}},
	}
	for _, step := range steps {
		if err := q.query(ctx, step.each, step.query, step.args...); err != nil {
			return s, err
		}
	}
	s.PerMinute = float64(s.DoneLast) / rateSpan.Minutes()
	if s.DoneLast > 0 {
		// The rate is that of the time in which recordings were done, so that a
		// queue that has just begun is not taken for a slow one.
		span := rateSpan.Seconds()
		err = q.query(ctx, func(r *sql.Rows) error { return r.Scan(&span) },
			"select min({now} - at + seconds) from swathe_outcome where queue = $1 and at > {now} - $2 and at = (select min(at) from swathe_outcome where queue = $1 and at > {now} - $2)", q.name, rateSpan.Seconds())
		if err != nil {
			return s, err
		}
		s.PerMinute = float64(s.DoneLast) / math.Max(1, span) * 60
		left := float64(len(s.Waiting))
		for _, w := range s.Workers {
			for _, d := range w.Doing {
				left += 1 - d.Share
			}
		}
		s.RemainingS = left / s.PerMinute * 60
	}
	return s, nil
}

// Metrics writes a status in the text format that Prometheus reads (exposition
// format 0.0.4).
func (s Status) Metrics() string {
	var b strings.Builder
	gauge := func(name, help string, v float64) {
		b.WriteString("# HELP swathe_" + name + " " + help + "\n# TYPE swathe_" + name + " gauge\nswathe_" + name + " " + strconv.FormatFloat(v, 'g', -1, 64) + "\n")
	}
	busy := 0
	for _, w := range s.Workers {
		busy += len(w.Doing)
	}
	paused := 0.0
	if s.Paused {
		paused = 1
	}
	gauge("queue_waiting", "Recordings waiting to be measured.", float64(len(s.Waiting)))
	gauge("queue_measuring", "Recordings being measured.", float64(busy))
	gauge("queue_workers", "Workers that are alive.", float64(len(s.Workers)))
	gauge("queue_paused", "1 while the queue is paused.", paused)
	gauge("queue_done_per_minute", "Recordings finished per minute, over the last ten minutes.", s.PerMinute)
	gauge("analysis_version", "Version of the analysis.", float64(lab.AnalysisVersion))
	return b.String()
}
