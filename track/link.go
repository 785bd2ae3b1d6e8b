package track

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"swathe/geom"
	"swathe/track/sight"
)

// linked is one look on its way to becoming a sample of the trace.
type linked struct {
	sight.Sighting
	state  geom.State
	reason string    // why the robot is not seen
	pose   geom.Pose // smoothed place, and heading
	vx, vy float64   // smoothed speed, m/s
	sigma  float64   // of the place along each axis, m
	hop    float64   // m, of a place of a robot that stands: sigma with slip
	slip   float64   // m, sight.Slip of the outline
	byTop  float64   // share of the place that rests on the picture of the top
	sigmaH float64   // of the heading, rad
	source geom.HeadingSource
	still  bool // the robot stands
	rest   int  // which time it stands: the first is 1
}

// Link makes a trace of sightings in increasing time. plan, robot and camera
// tell what a gap means; length is the recording's, s. Sightings are not
// changed. The error is a *Failure without a file.
func Link(sightings []sight.Sighting, job Job, length float64, opt Options) (*geom.Trace, []string, error) {
	l := make([]linked, 0, len(sightings))
	last := math.Inf(-1)
	for _, s := range sightings {
		if s.T <= last {
			continue
		}
		last = s.T
		l = append(l, linked{Sighting: s})
	}
	lessShadow(l)
	moves, err := cameraMoves(l, job, opt)
	if err != nil {
		return nil, nil, err
	}
	placeByTop(l, job)
	l = noFrames(l)
	dropDoubts(l)
	seen := 0
	for i := range l {
		if l[i].Found {
			seen++
		}
	}
	if n := len(l); n > 0 && seen < 3 && l[n-1].Why == sight.WhyStanding {
		return nil, nil, &Failure{Kind: NeverMoved, T: math.NaN(), Message: fmt.Sprintf(
			"something with the robot's outline stands at (%.2f, %.2f) m throughout: either the robot was not started, or it is not in this recording", l[n-1].X, l[n-1].Y)}
	}
	if seen < 3 {
		return nil, nil, &Failure{Kind: NoRobot, T: math.NaN(), Message: noRobot(l, job)}
	}
	gaps := fillGaps(l, job, opt)
	smoothPath(l, job, opt)
	warnings := append(moves, headings(l, job, opt)...)
	tr := &geom.Trace{Length: length, Reasons: gaps}
	b := bounds(l, job, opt)
	if !b.moved {
		return nil, nil, &Failure{Kind: NeverMoved, T: math.NaN(), Message: "what has the robot's outline stood still throughout: either the robot was not started, or it was not found in this recording"}
	}
	tr.Run, tr.Started, tr.Ended = b.run, b.started, b.ended
	tr.Samples = make([]geom.Sample, len(l))
	for i := range l {
		tr.Samples[i] = geom.Sample{T: l[i].T, X: l[i].pose.X, Y: l[i].pose.Y, Heading: l[i].pose.Heading,
			Speed: math.Hypot(l[i].vx, l[i].vy), Sigma: l[i].sigma, SigmaH: l[i].sigmaH, State: l[i].state, Source: l[i].source}
	}
	return tr, warnings, nil
}

// noFrames puts one look that saw nothing into the middle of every stretch longer
// than pathGap without a frame: between two parts of a recording, or where the camera
// paused. Else the places before and after it would be neighbours, and where they
// lie close together the robot would count as seen all the while.
func noFrames(l []linked) []linked {
	out := make([]linked, 0, len(l))
	for i := range l {
		if i > 0 && l[i].T-l[i-1].T > pathGap {
			out = append(out, linked{Sighting: sight.Sighting{T: (l[i-1].T + l[i].T) / 2, Frame: l[i-1].Frame, Why: sight.WhyNoFrame}})
		}
		out = append(out, l[i])
	}
	return out
}

// shadowCrowd is the share of the ring round the robot that a usual shadow of its
// own fills.
const shadowCrowd = 0.1

// lessShadow corrects Crowd, the share of the ring round the robot that differs from
// the room, where it is always high: that is the robot's own long shadow and no
// person beside it.
func lessShadow(l []linked) {
	var v []float64
	for i := range l {
		if l[i].Found {
			v = append(v, l[i].Crowd)
		}
	}
	if len(v) == 0 {
		return
	}
	more := geom.Median(v) - shadowCrowd
	if !(more > 0) {
		return
	}
	for i := range l {
		l[i].Crowd = math.Max(0, l[i].Crowd-more)
	}
}

func noRobot(l []linked, job Job) string {
	crowd := 0
	for i := range l {
		if l[i].Why == sight.WhyCovered || l[i].Changed > 0.02 {
			crowd++
		}
	}
	m := "nothing of the robot's size was seen in the room. Check its diameter and height in lab.yaml (8 % off is enough to lose it; swathe check LAB --recording FILE shows the diameter that fits), that the camera's marks belong to this recording, and that the robot contrasts with the floor"
	if crowd > len(l)/10 {
		m += "; something moved in the picture, but nothing with the robot's outline"
	}
	return m
}

// dropDoubts discards the sightings whose top does not look like the robot's. If they
// are more than one in six it keeps them: then the top itself has changed.
func dropDoubts(l []linked) {
	n, d := 0, 0
	for i := range l {
		if l[i].Found {
			n++
			if l[i].Doubt {
				d++
			}
		}
	}
	if d*6 > n {
		return
	}
	for i := range l {
		if l[i].Found && l[i].Doubt {
			unsee(&l[i])
		}
	}
}

func unsee(s *linked) {
	s.Found = false
	s.Why = "the detections do not match the path"
	s.Source = ""
}

// fillGaps gives every look its state and returns the gaps with their reasons.
func fillGaps(l []linked, job Job, opt Options) []geom.Gap {
	var gaps []geom.Gap
	n := len(l)
	for i := 0; i < n; {
		if l[i].Found {
			l[i].state = geom.Seen
			i++
			continue
		}
		j := i
		for j < n && !l[j].Found {
			j++
		}
		g := judge(l, i, j, job, opt)
		for k := i; k < j; k++ {
			l[k].state, l[k].reason = g.State, g.Reason
		}
		gaps = append(gaps, g)
		i = j
	}
	carriedStretches(l, job, opt, &gaps)
	sort.Slice(gaps, func(a, b int) bool { return gaps[a].From < gaps[b].From })
	return gaps
}

// judge decides what the gap of looks [i, j) was.
func judge(l []linked, i, j int, job Job, opt Options) geom.Gap {
	g := geom.Gap{State: geom.Lost, Reason: sight.WhyNothing}
	g.From, g.To = l[i].T, l[j-1].T
	count := map[string]int{}
	var whys []string // keys of count as they came, so that ties are broken the same way every time
	for k := i; k < j; k++ {
		if count[l[k].Why]++; count[l[k].Why] == 1 {
			whys = append(whys, l[k].Why)
		}
	}
	best := 0
	for _, w := range whys {
		if w != sight.WhyNothing && count[w] > best {
			best, g.Reason = count[w], w
		}
	}
	if best == 0 || best*3 < j-i && !strings.HasPrefix(g.Reason, sight.WhyHidden) {
		g.Reason = sight.WhyNothing
	}
	if i == 0 || j == len(l) {
		switch {
		case stoodBeyond(l, i, j, opt):
			g.State, g.Reason = geom.Bridged, "it stood where it was seen next"
			if i > 0 {
				g.Reason = "it stood where it was last seen"
			}
		case i == 0:
			g.Reason = "not seen yet: " + g.Reason
		case takenAway(l, i, j, job):
			g.State, g.Reason, g.Shows = geom.Carried, "a person was at the robot and took it away", showsPerson(l, i, j)
		}
		return g
	}
	a, b := &l[i-1], &l[j]
	d := math.Hypot(a.X-b.X, a.Y-b.Y)
	dt := b.T - a.T
	r := job.Robot.Radius()
	who := personInGap(l, i, j)
	switch {
	case who.moves(d, dt, r):
		g.State, g.Reason, g.Shows = geom.Carried, "a person was at the robot and it reappeared elsewhere", showsPerson(l, i, j)
	case d > opt.MaxSpeed*dt+0.03:
		g.State, g.Reason = geom.Lost, "it reappeared farther away than it could have driven"
	case strings.HasPrefix(g.Reason, sight.WhyHidden):
		if dt <= opt.BridgeHid {
			g.State = geom.Bridged
		}
	case who.at:
		g.Reason = sight.WhyPerson
		if dt <= opt.BridgeHid {
			g.State = geom.Bridged
		}
	case dt <= opt.BridgeSeen:
		g.State = geom.Bridged
	}
	return g
}

// carriedStretches widens a gap in which the robot was carried by the sightings next
// to it that show it moving with a person at it, in the 3 s before and after: it was
// in the person's hands then.
func carriedStretches(l []linked, job Job, opt Options, gaps *[]geom.Gap) {
	for gi := range *gaps {
		g := &(*gaps)[gi]
		if g.State != geom.Carried {
			continue
		}
		i := sort.Search(len(l), func(k int) bool { return l[k].T >= g.From })
		j := sort.Search(len(l), func(k int) bool { return l[k].T > g.To })
		for i > 0 && l[i-1].Found && personAt(&l[i-1]) && g.From-l[i-1].T < 3 && moved(l, i-1, -1) > 0.01 {
			i--
			l[i].state, l[i].reason = geom.Carried, g.Reason
		}
		for j < len(l) && l[j].Found && personAt(&l[j]) && l[j].T-g.To < 3 && moved(l, j, 1) > 0.01 {
			l[j].state, l[j].reason = geom.Carried, g.Reason
			j++
		}
		g.From, g.To = l[i].T, l[j-1].T
	}
}

// moved is how far from its place at look k the robot gets in the half second after
// (dir 1) or before it (dir -1).
func moved(l []linked, k, dir int) float64 {
	best := 0.0
	for m := k; m >= 0 && m < len(l) && math.Abs(l[m].T-l[k].T) < 0.5; m += dir {
		if l[m].Found {
			best = math.Max(best, math.Hypot(l[m].X-l[k].X, l[m].Y-l[k].Y))
		}
	}
	return best
}
