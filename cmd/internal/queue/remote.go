package queue

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"github.com/riverqueue/river"

	"swathe/cmd/internal/disk"
	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/store"
	"swathe/cmd/internal/work"
)

// Depot is what a worker that does not share the lab's folder works from: the
// object store, and a cache on its own disk.
type Depot struct {
	Store *store.Store
	Cache *store.Cache
}

// again is how long a job rests that the store kept from being done.
const again = 30 * time.Second

// Adopt makes dir the folder of a worker for the lab of a store, so that Open finds
// the lab's queue there.
func Adopt(ctx context.Context, dir string, s *store.Store) error {
	if _, err := os.Stat(filepath.Join(dir, lab.SetupFile)); err == nil {
		return fmt.Errorf("%s is a lab's folder. With --store name a folder of this machine for what is fetched", dir)
	}
	name, err := s.Name(ctx)
	if errors.Is(err, store.ErrMissing) {
		return errors.New("nothing was put into this store yet. Do that where the lab's folder is: swathe queue LAB add --store URL")
	} else if err != nil {
		return err
	}
	file := filepath.Join(dir, "results", nameFile)
	if was, err := os.ReadFile(file); err == nil && strings.TrimSpace(string(was)) != name {
		return fmt.Errorf("%s holds what was fetched for another lab; name another folder", dir)
	}
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		return err
	}
	return disk.WriteWhole(file, []byte(name+"\n"))
}

// jobsDir holds a folder for each job under way.
func (d *Depot) jobsDir() string { return filepath.Join(d.Cache.Dir, "jobs") }

// notNow is what may be better in a while: a store that does not answer, a full disk.
type notNow struct{ error }

// tidy removes what killed workers left behind.
func (d *Depot) tidy() {
	list, _ := os.ReadDir(d.jobsDir())
	for _, e := range list {
		text, _, _ := strings.Cut(e.Name(), "-")
		if pid, err := strconv.Atoi(text); err == nil && !disk.Alive(pid) {
			_ = os.RemoveAll(filepath.Join(d.jobsDir(), e.Name()))
		}
	}
}

// fetch makes a lab of what a job names, and returns the recording in it.
func (d *Depot) fetch(ctx context.Context, job Job) (dir string, l *lab.Lab, item work.Item, err error) {
	if err := os.MkdirAll(d.jobsDir(), 0o755); err != nil {
		return "", nil, item, notNow{err}
	}
	if dir, err = os.MkdirTemp(d.jobsDir(), fmt.Sprintf("%d-*", os.Getpid())); err != nil {
		return "", nil, item, notNow{err}
	}
	if err := d.Store.Fetch(ctx, d.Cache, job.Files, dir); errors.Is(err, store.ErrMissing) || errors.Is(err, store.ErrDamaged) {
		return dir, nil, item, fmt.Errorf("%w. Add the run again", err)
	} else if err != nil {
		return dir, nil, item, notNow{err}
	}
	if l, err = lab.Open(dir); err == nil {
		err = job.How.Apply(l)
	}
	if err != nil {
		return dir, nil, item, err
	}
	list, err := work.List(l, nil)
	for _, i := range list {
		if i.ID() == job.Run {
			return dir, l, i, nil
		}
	}
	return dir, nil, item, errors.Join(err, fmt.Errorf("%s is not among the files that were added with it", job.Run))
}

// remote measures a recording that comes from a store, and sends what came of it.
func (h *Hand) remote(ctx context.Context, job *river.Job[Job], p *progress, start time.Time) error {
	d, run := h.opt.Depot, job.Args.Run
	if len(job.Args.Files) == 0 {
		h.hooks.Say("%s was added without --store, so this worker can't have it. Add it again with --store, or start a worker that shares the lab's folder.", run)
		return river.JobSnooze(again)
	}
	dir, l, item, err := d.fetch(ctx, job.Args)
	defer os.RemoveAll(dir)
	switch {
	case err == nil:
	case ctx.Err() != nil:
		return h.settle(ctx, p, work.Outcome{Run: run, Kind: work.Stopped}, start)
	case errors.As(err, new(notNow)):
		h.hooks.Say("%s can't be fetched (%v); it is tried again in %v.", run, err, again)
		return river.JobSnooze(again)
	default:
		return h.settle(ctx, p, work.Outcome{Run: run, Kind: work.Failed, Reason: err.Error()}, start)
	}
	out, err := h.outcome(ctx, l, item, job, p)
	if err != nil {
		return err
	}
	if out.Kind != work.Stopped {
		layout, name, _ := strings.Cut(run, "/")
		if err := d.Store.Deliver(ctx, dir, layout, name); err != nil && ctx.Err() == nil {
			h.hooks.Say("The result of %s can't be stored (%v); it is measured again in %v.", run, err, again)
			return river.JobSnooze(again)
		} else if err != nil {
			out = work.Outcome{Run: run, Kind: work.Stopped}
		}
	}
	return h.settle(ctx, p, out, start)
}
