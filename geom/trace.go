package geom

import "math"

// Pose is a place and heading on the floor: metres, radians.
type Pose struct{ X, Y, Heading float64 }

// At returns where body point b lies on the floor when the robot is at p.
func (p Pose) At(b Point2) Point2 {
	s, c := math.Sincos(p.Heading)
	return Point2{p.X + c*b.X - s*b.Y, p.Y + s*b.X + c*b.Y}
}

// State says how a sample of a Trace is known.
type State uint8

// The states of a sample, as trace.csv spells them.
const (
	Seen    State = iota // the robot was found in the picture at this moment
	Bridged              // hidden or missed for a short while, filled in
	Carried              // a person moves the robot
	Lost                 // not known where it was
)

var stateNames = [...]string{"seen", "bridged", "carried", "lost"}

// String returns the state's name as trace.csv spells it.
func (s State) String() string {
	if int(s) < len(stateNames) {
		return stateNames[s]
	}
	return "unknown"
}

// ParseState is the inverse of State.String; ok is false for another word.
func ParseState(word string) (s State, ok bool) {
	for i, n := range stateNames {
		if n == word {
			return State(i), true
		}
	}
	return 0, false
}

// HeadingSource says what a sample's heading rests on.
type HeadingSource uint8

// The sources of a heading, as trace.csv spells them.
const (
	HeadingUnknown HeadingSource = iota
	HeadingTexture               // the picture of the robot's top
	HeadingMarker                // a printed marker
	HeadingTravel                // direction of travel, held while standing
	HeadingGiven                 // given with a path measured elsewhere
	HeadingOutline               // the outline of a robot that is not round
)

var headingNames = [...]string{"", "texture", "marker", "travel", "given", "outline"}

// String returns the source's name as trace.csv spells it, empty if unknown.
func (h HeadingSource) String() string {
	if int(h) < len(headingNames) {
		return headingNames[h]
	}
	return ""
}

// ParseHeadingSource is the inverse of HeadingSource.String.
func ParseHeadingSource(word string) (HeadingSource, bool) {
	for i, n := range headingNames {
		if n == word {
			return HeadingSource(i), true
		}
	}
	return 0, false
}

// Sample is one moment of a Trace.
type Sample struct {
	T       float64       // s from the first frame
	X, Y    float64       // floor, m; NaN where State is Lost and no guess exists
	Heading float64       // rad, unwrapped; NaN where nothing gives one
	Speed   float64       // m/s along the path, >= 0
	Sigma   float64       // standard uncertainty of the position, one axis, m; with a camera its own is part of it
	SigmaH  float64       // standard uncertainty of the heading, rad; NaN if unknown
	State   State         // how this sample is known
	Source  HeadingSource // what the heading rests on
}

// Pose returns the sample's pose; the heading may be NaN.
func (s Sample) Pose() Pose { return Pose{s.X, s.Y, s.Heading} }

// Placed tells whether the robot drove, or may have, at the sample's place: it has
// one, and was neither lost nor carried.
func (s *Sample) Placed() bool {
	return s.State != Lost && s.State != Carried && !math.IsNaN(s.X) && !math.IsNaN(s.Y)
}

// Headings returns a heading for every sample: its own, else the last known one
// before it, else the first known one; NaN for all where there is none.
func Headings(ss []Sample) []float64 {
	out := make([]float64, len(ss))
	last := math.NaN()
	for i := 0; i < len(ss) && math.IsNaN(last); i++ {
		last = ss[i].Heading
	}
	for i := range ss {
		if h := ss[i].Heading; !math.IsNaN(h) {
			last = h
		}
		out[i] = last
	}
	return out
}

// Span is a stretch of time, seconds, From <= To.
type Span struct{ From, To float64 }

// Contains tells whether t lies in the closed span.
func (s Span) Contains(t float64) bool { return t >= s.From && t <= s.To }

// How a run started and ended, as run.json spells it.
const (
	StartedAtRest  = "at rest"
	StartedMoving  = "already moving"
	StartedUnseen  = "not seen" // it was moving when it first showed, some time after the recording began
	EndedDocked    = "docked"
	EndedStood     = "stood still"
	EndedCarried   = "carried"
	EndedRecording = "recording ended"
	EndedLost      = "lost" // it was last seen some time before the recording ended, and did not rest there
)

// Trace is the path of one run: samples in strictly increasing time, from the
// first frame of the recording to the last, with the run's bounds in it.
// A reader must not change it; the functions of coverage and report do not.
//
// Between two neighbouring samples the robot is where linear interpolation puts
// it, unless one of the two is Lost or Carried: then nothing is known between.
type Trace struct {
	Samples []Sample
	Run     Span    // from the moment the robot first moves of itself to the last
	Started string  // one of the Started constants
	Ended   string  // one of the Ended constants
	Reasons []Gap   // why the robot was not seen, stretch by stretch
	Length  float64 // s, duration of the whole recording (last sample's T if a path)
}

// Gap is a stretch in which the robot was not seen, with the reason.
type Gap struct {
	Span
	State  State // Bridged, Carried or Lost
	Reason string
	Shows  float64 // s, of a Carried one that was seen: the frame that shows the person best
}

// Times returns for how long the trace is in each state, s, indexed by State,
// and how long it is altogether: over the whole recording, not its run alone.
// An interval belongs to the worse of its two ends: what lies beside a lost
// sample is not known either.
func (t *Trace) Times() (by [Lost + 1]float64, all float64) {
	for i := 1; i < len(t.Samples); i++ {
		a, b := &t.Samples[i-1], &t.Samples[i]
		by[max(a.State, b.State)] += b.T - a.T
		all += b.T - a.T
	}
	return by, all
}
