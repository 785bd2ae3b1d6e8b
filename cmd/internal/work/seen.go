package work

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"swathe/geom"
	"swathe/report/words"
	"swathe/track"
	"swathe/track/sight"
)

// seen is how much of a recording shows the robot.
type seen struct {
	trace *geom.Trace
	all   float64 // s, the recording less what is explained
	found float64 // s
	share float64 // found / all
}

// account counts for how much of the recording the robot was found. Left out of
// the account is what no camera could see: short ways beneath a known thing,
// and the stretches in which the tester says that it was carried.
func account(t *geom.Trace, carried []geom.Span) seen {
	by, all := t.Times()
	a := seen{trace: t, all: all, found: by[geom.Seen]}
	for _, g := range t.Reasons {
		if g.State == geom.Bridged && strings.HasPrefix(g.Reason, sight.WhyHidden) {
			a.all -= g.To - g.From
		}
	}
	for _, s := range carried {
		a.all -= math.Max(0, math.Min(s.To, end(t))-math.Max(s.From, t.Samples[0].T))
	}
	// Rounding at the ends of stretches must not make more than all of it.
	a.share = math.Max(0, math.Min(1, a.found/math.Max(a.all, 1e-9)))
	return a
}

func end(t *geom.Trace) float64 { return t.Samples[len(t.Samples)-1].T }

// mark is what every page and picture of a run says that was measured although
// too little of it was seen; empty if enough was.
func (a seen) mark(least float64) string {
	if a.share >= least {
		return ""
	}
	return fmt.Sprintf("Seen in only %s of the recording: not a measurement of the whole run", strings.ReplaceAll(words.Share(a.share, 0.005), words.NB, " "))
}

// refusal says why too little was seen: what was seen where, and the likeliest
// causes.
func (a seen) refusal(job track.Job, least float64) *track.Failure {
	var b strings.Builder
	fmt.Fprintf(&b, "the robot was found in only %s of the recording (%s of %s)", words.Share(a.share, 0.005), words.Duration(a.found), words.Duration(a.all))
	if s := a.spells(); len(s) > 0 {
		fmt.Fprintf(&b, ": %s", words.List(s))
	}
	fmt.Fprintf(&b, ". A run that is seen for less than %.4g %% (least_seen among the settings of lab.yaml) is not measured: its figures would mislead. The most likely reasons why it was not seen for %s: ", 100*least, words.Duration(a.all-a.found))
	for i, c := range a.causes(job) {
		if i > 0 {
			b.WriteString("; ")
		}
		fmt.Fprintf(&b, "(%d) %s", i+1, c)
	}
	b.WriteString(". ")
	if job.Camera != nil {
		b.WriteString("swathe check LAB --recording FILE shows what is seen. ")
	}
	b.WriteString("With --anyway the run is measured as far as it was seen, and marked on every page and picture")
	return &track.Failure{Kind: track.TooLittleSeen, File: strings.Join(job.Files, ", "), T: math.NaN(), Message: strings.ReplaceAll(b.String(), words.NB, " ")}
}

// spellGap is the longest gap within a spell, s, and manySpells how many are told.
const (
	spellGap   = 2.0
	manySpells = 3
)

// spells are the longest stretches in which the robot was seen, in words, in
// their order.
func (a seen) spells() []string {
	type spell struct{ i, j int }
	var all []spell
	ss := a.trace.Samples
	for i := range ss {
		if ss[i].State != geom.Seen {
			continue
		}
		if n := len(all); n > 0 && ss[i].T-ss[all[n-1].j].T <= spellGap {
			all[n-1].j = i
		} else {
			all = append(all, spell{i, i})
		}
	}
	long := func(s spell) float64 { return ss[s.j].T - ss[s.i].T }
	few := append([]spell(nil), all...)
	sort.SliceStable(few, func(x, y int) bool { return long(few[x]) > long(few[y]) })
	few = few[:min(manySpells, len(few))]
	sort.Slice(few, func(x, y int) bool { return few[x].i < few[y].i })
	var out []string
	for _, s := range few {
		p, q := ss[s.i], ss[s.j]
		where := fmt.Sprintf("at (%.2f, %.2f) m", p.X, p.Y)
		if math.Hypot(p.X-q.X, p.Y-q.Y) > 0.1 {
			where = fmt.Sprintf("from (%.2f, %.2f) to (%.2f, %.2f) m", p.X, p.Y, q.X, q.Y)
		}
		out = append(out, fmt.Sprintf("from %.1f to %.1f s %s", p.T, q.T, where))
	}
	if rest := len(all) - len(few); rest > 0 {
		out = append(out, fmt.Sprintf("%d shorter stretches", rest))
	}
	return out
}

// cause is something that may have kept the robot from being seen: for how long
// it may have, how likely it is against others for the same time (common
// practice), and what to do.
type cause struct {
	seconds, likely float64
	text            string
}

// smallRobot is the radius, px, below which little of an outline is to be seen
// (the finder's own bound on drawn recordings is 6).
const smallRobot = 10

// manyCauses is how many causes are told.
const manyCauses = 3

// causes are the likeliest causes, by the time for which each may account.
func (a seen) causes(job track.Job) []string {
	if job.Camera == nil {
		return a.pathCauses()
	}
	by := map[string]float64{}
	outer := 0.0 // before the first and after the last sighting, with nothing there
	nothing := 0.0
	ss := a.trace.Samples
	for _, g := range a.trace.Reasons {
		d := g.To - g.From
		why := strings.TrimPrefix(g.Reason, "not seen yet: ")
		switch {
		case strings.HasPrefix(why, sight.WhyHidden):
			by["it was under or behind the "+strings.TrimPrefix(why, sight.WhyHidden)+", or that piece's outline or height in lab.yaml is wrong"] += d
		case why == sight.WhyOutside:
			by["it left the picture: raise the camera, or use a wider lens"] += d
		case why == sight.WhyBad:
			by["frames could not be decoded: copy the recording again from the camera"] += d
		case why == sight.WhyNoFrame:
			by["nothing was recorded then: its parts lie apart (gap_s), or the camera paused"] += d
		case why == sight.WhyPerson:
			by["people were in front of it"] += d
		case why == sight.WhyCovered:
			by["something was in front of it"] += d
		default:
			nothing += d
			if g.From <= ss[0].T || g.To >= end(a.trace) {
				outer += d
			}
		}
	}
	// What drives when it is first and last seen was there before and is behind.
	there := 1.0
	if a.trace.Started == geom.StartedUnseen && a.trace.Ended == geom.EndedLost {
		there = 0.4
	}
	list := []cause{
		{outer, there, "it was not in the room yet, or had left it: state its times with start_s and end_s in the notes beside the recording"},
		{nothing, 0.9, "its diameter, outline or height in lab.yaml is wrong (8 % off is enough to lose it)"},
		{nothing, 0.8, "it hardly stands out from the floor, or the light changes: light the room evenly, put a printed marker on it, or another floor under it"},
		{nothing, 0.5, "the camera's marks do not belong to this recording"},
	}
	if r := a.radiusPx(job); r < smallRobot {
		list = append(list, cause{nothing, 0.95, fmt.Sprintf("it is only %.0f pixels across: lower the camera, or record larger frames", 2*r)})
	}
	for text, s := range by {
		list = append(list, cause{s, 1, text})
	}
	return a.likeliest(list)
}

// pathCauses are the likeliest causes for a path that was measured elsewhere.
func (a seen) pathCauses() []string {
	by := map[string]float64{}
	lost := 0.0
	for _, g := range a.trace.Reasons {
		by[g.Reason] += g.To - g.From
		lost += g.To - g.From
	}
	list := []cause{
		{lost, 0.4, "the system that measured the path lost the robot or its marker"},
		{lost, 0.3, "rows were left out when the path was written: write all of them"},
	}
	for why, s := range by {
		list = append(list, cause{s, 1, why})
	}
	return a.likeliest(list)
}

// likeliest puts causes into words, the likeliest first.
func (a seen) likeliest(list []cause) []string {
	sort.Slice(list, func(i, j int) bool {
		if a, b := list[i].seconds*list[i].likely, list[j].seconds*list[j].likely; a != b {
			return a > b
		}
		return list[i].text < list[j].text
	})
	var out []string
	for _, c := range list[:min(manyCauses, len(list))] {
		if c.seconds >= 0.05 && c.seconds < 0.95*(a.all-a.found) {
			c.text += fmt.Sprintf(" (for up to %s)", words.Duration(c.seconds))
		}
		out = append(out, c.text)
	}
	return out
}

// radiusPx is how large the robot shows in the middle of the room, +Inf if that
// is not known.
func (a seen) radiusPx(job track.Job) float64 {
	if job.Camera == nil {
		return math.Inf(1)
	}
	lo, hi := job.Plan.Bounds()
	m := job.Camera.PixelSize(geom.Point3{X: (lo.X + hi.X) / 2, Y: (lo.Y + hi.Y) / 2, Z: job.Robot.Height})
	if !(m > 0) {
		return math.Inf(1)
	}
	return job.Robot.Radius() / m
}

// lostWarn is the share of the recording above which a run gets a warning that
// its place is not known: what a comparison takes no more (common practice).
const lostWarn = 0.05

// warning tells for how much of the recording the place is not known, and where
// most of that lies; empty if it is little.
func (a seen) warning() string {
	by, all := a.trace.Times()
	if all == 0 || by[geom.Lost]/all <= lostWarn {
		return ""
	}
	var worst geom.Gap
	n := 0
	for _, g := range a.trace.Reasons {
		if g.State != geom.Lost {
			continue
		}
		n++
		if g.To-g.From > worst.To-worst.From {
			worst = g
		}
	}
	s := fmt.Sprintf("the robot's position is unknown for %s of the recording (%s)", words.Share(by[geom.Lost]/all, 0.005), words.Duration(by[geom.Lost]))
	if n > 0 {
		s += fmt.Sprintf(", longest from %.1f to %.1f s (%s)", worst.From, worst.To, worst.Reason)
	}
	return strings.ReplaceAll(s+"; nothing counts as cleaned there, so the coverage is a lower bound", words.NB, " ")
}
