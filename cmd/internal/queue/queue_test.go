package queue

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"

	"swathe/cmd/internal/disk"
	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
	"swathe/track"
)

// labOf makes a lab of n recordings that are none, and opens its queue: its own
// file, or the database at SWATHE_QUEUE.
func labOf(tb testing.TB, n int) (*Queue, *lab.Lab, []work.Item) {
	tb.Helper()
	dir := tb.TempDir()
	raw, err := os.ReadFile("../../../testdata/maple/lab.yaml")
	if err != nil {
		tb.Fatal(err)
	}
	films := filepath.Join(dir, "recordings", "cluttered")
	if err := errors.Join(os.MkdirAll(films, 0o755), os.WriteFile(filepath.Join(dir, "lab.yaml"), raw, 0o644)); err != nil {
		tb.Fatal(err)
	}
	for i := range n {
		if err := os.WriteFile(filepath.Join(films, fmt.Sprintf("siskin_mapped_%d.mp4", i+1)), fmt.Append(nil, i), 0o644); err != nil {
			tb.Fatal(err)
		}
	}
	l, err := lab.Open(dir)
	if err != nil {
		tb.Fatal(err)
	}
	items, err := work.List(l, nil)
	if err != nil || len(items) != n {
		tb.Fatal(len(items), err)
	}
	address := os.Getenv("SWATHE_QUEUE")
	if address != "" {
		if err := Migrate(tb.Context(), address); err != nil {
			tb.Fatal(err)
		}
	}
	q, err := Open(tb.Context(), dir, address)
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(q.Close)
	return q, l, items
}

func must(tb testing.TB, err error) {
	tb.Helper()
	if err != nil {
		tb.Fatal(err)
	}
}

// eventually waits until something holds.
func eventually(tb testing.TB, what string, holds func() bool) {
	tb.Helper()
	for end := time.Now().Add(30 * time.Second); !holds(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			tb.Fatalf("never: %s", what)
		}
	}
}

// slow is an eye that looks until it is stopped or told to fail.
type slow struct {
	mu    sync.Mutex
	began []string
	end   chan struct{}
}

func (s *slow) eye() work.Eye {
	return work.Eye{Measure: func(ctx context.Context, job track.Job, tell func(track.Progress)) (*track.Result, error) {
		s.mu.Lock()
		s.began = append(s.began, filepath.Base(job.Files[0]))
		s.mu.Unlock()
		tell(track.Progress{Share: 0.25})
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-s.end:
			return nil, &track.Failure{Kind: track.NotReadable, Message: "no film"}
		}
	}}
}

func (s *slow) count() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.began)
}

// What a user stops is stopped at once, also from another program, and stays so
// until it is asked for; what a worker gives back as it ends has lost no try; who
// asks for a run gets it before what merely waits.
func TestStopDrainFirst(t *testing.T) {
	q, l, items := labOf(t, 4)
	if n, _, err := q.Fill(t.Context(), l, items, Ask{}); n != 4 || err != nil {
		t.Fatal(n, err)
	}
	if n, _, err := q.Fill(t.Context(), l, items, Ask{}); n != 0 || err != nil {
		t.Errorf("put in twice: %d, %v", n, err)
	}
	must(t, q.Pause(t.Context())) // before there ever was a worker
	must(t, q.Resume(t.Context()))
	if hit, err := q.First(t.Context(), items[2].ID()); !hit || err != nil {
		t.Fatal(hit, err)
	}
	opt := Options{Jobs: 1, Tries: 5, Beat: 20 * time.Millisecond, Lost: time.Second}
	see := &slow{end: make(chan struct{})}
	h, err := q.Work(t.Context(), opt, see.eye(), Hooks{Say: t.Logf})
	must(t, err)
	eventually(t, "the first is begun", func() bool { return see.count() == 1 })
	if see.began[0] != filepath.Base(items[2].Files()[0]) {
		t.Errorf("%s was begun before %s", see.began[0], items[2].ID())
	}
	var s Status
	eventually(t, "its progress is in the database", func() bool {
		s, err = q.Status(t.Context(), opt)
		return err == nil && len(s.Workers) == 1 && len(s.Workers[0].Doing) == 1 && s.Workers[0].Doing[0].Share == 0.25
	})
	if len(s.Waiting) != 3 || !slices.Equal(s.Taken, []string{items[2].ID()}) {
		t.Errorf("%d wait, taken %v", len(s.Waiting), s.Taken)
	}
	parser := expfmt.NewTextParser(model.LegacyValidation)
	parsed, err := parser.TextToMetricFamilies(strings.NewReader(s.Metrics()))
	must(t, err)
	for name, want := range map[string]float64{"swathe_queue_waiting": 3, "swathe_queue_measuring": 1, "swathe_queue_workers": 1, "swathe_queue_paused": 0} {
		if f := parsed[name]; f == nil || f.GetHelp() == "" || len(f.Metric) != 1 || f.Metric[0].GetGauge().GetValue() != want {
			t.Errorf("metric %s: %v; want %g", name, f, want)
		}
	}

	// Stopped through another connection, as by another program.
	if q.pool == nil {
		other, err := Open(t.Context(), q.Dir, "")
		must(t, err)
		defer other.Close()
		_, err = other.Cancel(t.Context(), items[2].ID())
		must(t, err)
	} else {
		_, err = q.Cancel(t.Context(), items[2].ID())
		must(t, err)
	}
	eventually(t, "the next is begun", func() bool { return see.count() == 2 })
	n, stopped, err := q.Fill(t.Context(), l, items, Ask{})
	if n != 0 || stopped != 1 || err != nil {
		t.Errorf("%d put in, %d left out, %v", n, stopped, err)
	}

	done, cancel := context.WithCancel(t.Context())
	cancel()
	h.Drain(done) // at once: what is under way goes back
	s, err = q.Status(t.Context(), opt)
	must(t, err)
	if len(s.Waiting) != 3 || len(s.Taken) != 0 || len(s.Workers) != 0 {
		t.Errorf("after the worker ended %d wait, %d are taken, %d workers", len(s.Waiting), len(s.Taken), len(s.Workers))
	}
	attempts := 0
	must(t, q.query(t.Context(), func(r *sql.Rows) error { return r.Scan(&attempts) }, "select coalesce(max(attempt), 0) from river_job where queue = $1 and "+waits, q.name))
	if attempts != 0 {
		t.Errorf("giving back cost %d tries", attempts)
	}

	// Paused, nothing is begun; resumed, all end and are told.
	must(t, q.Pause(t.Context()))
	close(see.end)
	var told []string
	h, err = q.Work(t.Context(), opt, see.eye(), Hooks{Say: t.Logf, Done: func(o work.Outcome) { told = append(told, string(o.Kind)) }})
	must(t, err)
	time.Sleep(200 * time.Millisecond)
	if see.count() != 2 {
		t.Error("begun while paused")
	}
	must(t, q.Resume(t.Context()))
	eventually(t, "the rest is done", func() bool { n, err := q.Open(t.Context()); return n == 0 && err == nil })
	h.Drain(t.Context())
	if !slices.Equal(told, []string{"failed", "failed", "failed"}) {
		t.Errorf("told %v", told)
	}
	if kind, _, err := q.LastOutcome(t.Context(), items[0].ID(), time.Minute); kind != "failed" || err != nil {
		t.Errorf("remembered %q, %v", kind, err)
	}
}

// Several programs that open a lab's queue for the first time at one moment all
// get it.
func TestOpenAtOnce(t *testing.T) {
	dir := t.TempDir()
	var group sync.WaitGroup
	for range 6 {
		group.Go(func() {
			q, err := Open(t.Context(), dir, "")
			if err != nil {
				t.Error(err)
				return
			}
			q.Close()
		})
	}
	group.Wait()
}

// A worker whose process is gone is struck out at once, and what it held is taken
// by the next; a recording that ends its workers again and again is noted.
func TestWorkerGone(t *testing.T) {
	q, l, items := labOf(t, 1)
	_, err := q.Put(t.Context(), l, items[0], Ask{})
	must(t, err)
	// The number of a process that has ended and was waited for.
	gone, err := os.StartProcess("/bin/true", []string{"true"}, &os.ProcAttr{})
	must(t, err)
	_, err = gone.Wait()
	must(t, err)
	ghost := fmt.Sprintf("%s-%d-x", disk.Home(), gone.Pid)
	opt := DefaultOptions()
	for try := 1; ; try++ {
		_, err = q.exec(t.Context(), "insert into swathe_worker (id, queue, host, pid, jobs, started, seen) values ($1, $2, 'here', $3, 1, {now}, {now})", ghost, q.name, gone.Pid)
		must(t, err)
		old := "'2020-01-01 00:00:00', attempted_by = json_array($2)"
		if q.pool != nil {
			old = "'2020-01-01', attempted_by = array[$2]"
		}
		_, err = q.exec(t.Context(), "update river_job set state = 'running', attempt = $1, attempted_at = "+old+" where queue = $3", try, ghost, q.name)
		must(t, err)
		var told work.Outcome
		over := make(chan struct{})
		h, err := q.Work(t.Context(), opt, work.Eye{Measure: func(ctx context.Context, _ track.Job, _ func(track.Progress)) (*track.Result, error) {
			<-ctx.Done()
			return nil, ctx.Err()
		}}, Hooks{Say: t.Logf, Done: func(o work.Outcome) { told = o; close(over) }, Began: func(*lab.Lab, work.Item) { close(over) }})
		must(t, err)
		<-over // begun, or given up
		if told.Kind == work.Failed {
			h.Drain(t.Context())
			if try != opt.Tries || !strings.Contains(told.Reason, "attempts: 5") {
				t.Errorf("given up after %d tries: %s", try, told.Reason)
			}
			if s, err := l.Status(items[0].Run); err != nil || s.Verdict != lab.FailedBefore {
				t.Errorf("noted as %v, %v", s.Verdict, err)
			}
			return
		}
		if try > opt.Tries {
			t.Fatal("tried without end")
		}
		// This worker ends too, as if killed: without a word to anybody.
		h.hooks.Done = nil
		done, cancel := context.WithCancel(t.Context())
		cancel()
		h.Drain(done)
	}
}

// A recording whose workers died as often as Tries is measured by a process of its
// own. It is blamed only if that dies too: whoever kills workers need not be it.
func TestLastTry(t *testing.T) {
	for name, c := range map[string]struct {
		died error
		want string
	}{
		"dies":  {errors.New("signal: killed"), "attempts: 6"},
		"lives": {nil, "no film"},
	} {
		t.Run(name, func(t *testing.T) {
			q, l, items := labOf(t, 1)
			_, err := q.Put(t.Context(), l, items[0], Ask{})
			must(t, err)
			opt := DefaultOptions()
			_, err = q.exec(t.Context(), "update river_job set attempt = $1 where queue = $2", opt.Tries, q.name)
			must(t, err)
			opt.Apart = func(_ context.Context, dir, run string, _ bool, _ How) error {
				if dir != l.Dir || run != items[0].ID() {
					t.Errorf("asked for %s in %s", run, dir)
				}
				if c.died != nil {
					return c.died
				}
				s, err := l.Status(items[0].Run)
				return errors.Join(err, l.WriteFailure(items[0].Run, s, "not readable", "no film", 0))
			}
			told := make(chan work.Outcome, 1)
			h, err := q.Work(t.Context(), opt, work.Eye{}, Hooks{Say: t.Logf, Done: func(o work.Outcome) { told <- o }})
			must(t, err)
			if o := <-told; o.Kind != work.Failed || !strings.Contains(o.Reason, c.want) {
				t.Errorf("%s: %s", o.Kind, o.Reason)
			}
			h.Drain(t.Context())
			if s, err := l.Status(items[0].Run); err != nil || s.Verdict != lab.FailedBefore || !strings.Contains(s.Why, c.want) {
				t.Errorf("noted: %v %q, %v", s.Verdict, s.Why, err)
			}
		})
	}
}

// BenchmarkQueue is the queue's own cost of a job: nothing is measured. Beside the
// time that passes it tells the processor time of this process.
func BenchmarkQueue(b *testing.B) {
	q, l, items := labOf(b, b.N)
	cpu := func() time.Duration {
		var r syscall.Rusage
		must(b, syscall.Getrusage(syscall.RUSAGE_SELF, &r))
		return time.Duration(r.Utime.Nano() + r.Stime.Nano())
	}
	began := cpu()
	b.ResetTimer()
	_, _, err := q.Fill(b.Context(), l, items, Ask{})
	must(b, err)
	b.ReportMetric(float64(b.Elapsed().Microseconds())/1000/float64(b.N), "ms/put")
	put := b.Elapsed()
	h, err := q.Work(b.Context(), DefaultOptions(), work.Eye{}, Hooks{Say: b.Logf, Refuse: func([]string) error { return errors.New("nothing is measured") }})
	must(b, err)
	for {
		n, err := q.Open(b.Context())
		must(b, err)
		if n == 0 {
			break
		}
		time.Sleep(2 * time.Millisecond)
	}
	b.ReportMetric(float64((b.Elapsed()-put).Microseconds())/1000/float64(b.N), "ms/job")
	b.ReportMetric(float64((cpu()-began).Microseconds())/1000/float64(b.N), "cpu-ms/both")
	b.StopTimer()
	h.Drain(b.Context())
}
