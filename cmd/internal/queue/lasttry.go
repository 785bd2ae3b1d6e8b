package queue

import (
	"context"
	"fmt"
	"math"

	"github.com/riverqueue/river"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
)

// lastTry finds out whether a recording ended its workers: by a process of its own,
// which only the recording can be blamed for.
func (h *Hand) lastTry(ctx context.Context, l *lab.Lab, item work.Item, job *river.Job[Job]) (out work.Outcome, err error) {
	out = work.Outcome{Run: job.Args.Run, Kind: work.Failed}
	if h.opt.Apart == nil || item.Refusal != nil {
		out.Reason, err = giveUp(l, item, job.Attempt-1)
		return out, err
	}
	died := h.opt.Apart(ctx, l.Dir, job.Args.Run, job.Args.Again && job.Args.Was == markOf(l, item), job.Args.How)
	if ctx.Err() != nil {
		out.Kind = work.Stopped
		return out, nil
	}
	if died != nil {
		h.hooks.Say("%s: the program that measured it alone died too (%v).", out.Run, died)
		out.Reason, err = giveUp(l, item, job.Attempt)
		return out, err
	}
	s, err := l.Status(item.Run)
	if out.Reason = s.Why; s.Verdict == lab.UpToDate {
		out.Kind, out.Reason, out.Result = work.UpToDate, "", l.Rel(l.ResultDir(item.Run.Layout, item.Run.RunName.String()))
	}
	return out, err
}

// giveUp notes a recording that ended its workers again and again.
func giveUp(l *lab.Lab, item work.Item, tries int) (string, error) {
	reason := fmt.Sprintf("Workers died while measuring this recording (attempts: %d). Measure it alone to see why: swathe measure LAB %s --again", tries, item.ID())
	if item.Refusal != nil {
		return reason, nil
	}
	status, err := l.Status(item.Run)
	if err != nil {
		return reason, err
	}
	return reason, l.WriteFailure(item.Run, status, "worker lost", reason, math.NaN())
}
