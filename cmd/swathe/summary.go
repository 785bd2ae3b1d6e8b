package main

import (
	"fmt"
	"math"
	"strings"

	"swathe/cmd/internal/work"
	"swathe/coverage/doubt"
	"swathe/geom"
	"swathe/report/words"
)

// measureDoc is what measure gives with --json.
type measureDoc struct {
	Verb    string   `json:"verb"`
	Lab     string   `json:"lab"`
	Runs    []runDoc `json:"runs"`
	Differs []string `json:"differs_from_setup"` // results of another set-up than today's
}

// runDoc is what came of one recording; the figures are null where it was not
// measured by this call. run.json in the result holds them all.
type runDoc struct {
	Run      string      `json:"run"`
	Outcome  work.Kind   `json:"outcome"`
	Reason   *string     `json:"reason"`
	Result   *string     `json:"result"`
	Warnings []string    `json:"warnings"`
	Figures  *figuresDoc `json:"figures"`
	Seconds  float64     `json:"work_s"`
}

type figuresDoc struct {
	CoveredShare   *float64 `json:"covered_share"`
	ReachableShare *float64 `json:"reachable_share"`
	DurationS      *float64 `json:"duration_s"`
	DistanceM      *float64 `json:"distance_m"`
	MeanPasses     *float64 `json:"mean_passes"`
	LostShare      *float64 `json:"lost_share"`
	Started        string   `json:"started"`
	Ended          string   `json:"ended"`
}

func newRunDoc(o work.Outcome) runDoc {
	d := runDoc{Run: o.Run, Outcome: o.Kind, Reason: text(o.Reason), Result: text(o.Result), Warnings: o.Warnings, Seconds: o.Seconds}
	if o.Coverage != nil {
		c := o.Coverage
		d.Figures = &figuresDoc{
			CoveredShare: number(c.Coverage.CoveredShare), ReachableShare: number(c.Coverage.ReachableShare),
			DurationS: number(c.Motion.DurationS), DistanceM: number(c.Motion.DistanceM),
			MeanPasses: number(c.Coverage.MeanPasses), LostShare: number(lostShare(o)),
			Started: o.Trace.Started, Ended: o.Trace.Ended,
		}
	}
	return d
}

// text is null for an empty string, number for a NaN.
func text(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

func number(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// lostShare is the share of the recording in which the robot's place is not known.
func lostShare(o work.Outcome) float64 {
	by, all := o.Trace.Times()
	if all == 0 {
		return math.NaN()
	}
	return by[geom.Lost] / all
}

// summary is the line that a run gets on the terminal.
func summary(o work.Outcome) string {
	switch o.Kind {
	case work.UpToDate:
		line := o.Run + ": up to date"
		if o.Differs {
			line += ", with an earlier set-up"
		}
		return line
	case work.Stopped:
		return o.Run + ": stopped before it was complete"
	case work.Failed, work.FailedBefore:
		return o.Run + ": " + string(o.Kind) + ": " + firstLine(o.Reason)
	}
	b, m := o.Coverage.Coverage, o.Coverage.Motion
	known := o.Doubt.Headline(o.Coverage)
	u := func(m map[string]doubt.Figure, name string) float64 { return m[name].U }
	line := fmt.Sprintf("%s: %s of the reachable floor (%s of the open floor) in %s, passed %s on average, %s driven",
		o.Run, words.Share(b.ReachableShare, u(known, "reachable_share")), words.Share(b.CoveredShare, u(known, "covered_share")), words.Duration(m.DurationS),
		words.Times(b.MeanPasses, u(known, "mean_passes")), words.Length(m.DistanceM, u(o.Doubt.Run, "distance_m"), words.Metre))
	if lost := lostShare(o); lost >= 0.0005 {
		line += fmt.Sprintf("; position unknown for %s of the recording", words.Share(lost, 0.0005))
	}
	if o.Trace.Ended == geom.EndedRecording {
		line += "; still driving when the recording ended"
	}
	if o.Trace.Ended == geom.EndedLost {
		line += "; lost from view while still driving"
	}
	// A terminal breaks lines where it will; a plain space is easier to search.
	return strings.ReplaceAll(line, words.NB, " ")
}

func firstLine(s string) string {
	line, rest, more := strings.Cut(s, "\n")
	if more && strings.TrimSpace(rest) != "" {
		return line + " (more in its .failed.json)"
	}
	return line
}

// tally counts outcomes in words, in a fixed order.
func tally(count map[work.Kind]int) string {
	var parts []string
	for _, k := range []work.Kind{work.Measured, work.UpToDate, work.Failed, work.FailedBefore, work.Stopped} {
		if count[k] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", count[k], k))
		}
	}
	return strings.Join(parts, ", ") + "."
}
