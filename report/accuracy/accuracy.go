// Package accuracy writes what swathe prove found: how far off a set-up measures.
package accuracy

import (
	"math"

	"swathe/report"
)

// Proof is what a set-up's accuracy turned out to be on recordings drawn in it.
type Proof struct {
	Schema  int      `json:"schema"`
	Lab     string   `json:"lab"`
	When    string   `json:"when"` // RFC 3339
	Version string   `json:"version"`
	Seed    int64    `json:"seed"`
	Encoded bool     `json:"encoded"` // measured through H.264 and the eye
	DriveS  float64  `json:"drive_s"` // that a drawn run may take before it goes home
	Runs    []Run    `json:"runs"`
	Left    []Left   `json:"left_out"`
	Expect  []Expect `json:"expect"`
	Drawn   string   `json:"drawn_with"`    // that it is the program's own model of the world
	Outside []string `json:"outside_check"` // checks that are not
}

// Run is one drawn recording and how far its measurement was off. What is
// null could not be measured.
type Run struct {
	Layout string  `json:"layout"`
	Robot  string  `json:"robot"`
	Phase  string  `json:"phase"` // mapping or mapped: how it drove
	Seed   int64   `json:"seed"`
	Frames []int   `json:"frame_size"`
	FPS    float64 `json:"fps"`
	Looks  Look    `json:"looks"`
	Failed *string `json:"failed"` // why it could not be measured; null if it was

	Path    Path     `json:"path"`
	Figures []Figure `json:"figures"`
	Events  []Events `json:"events"`
}

// Look says what the drawn recording looks like, and whose looks these are.
type Look struct {
	From         []string `json:"taken_from"` // recordings; empty: an ordinary room's
	Usual        []string `json:"not_known"`  // what was drawn as in an ordinary room
	FloorGrey    float64  `json:"floor_grey"`
	RobotGrey    float64  `json:"robot_grey"`
	NoiseGrey    float64  `json:"noise_grey"`
	RobotTexture float64  `json:"robot_texture_grey"`
}

// Path is how far the measured path lies from the true one.
type Path struct {
	RMSM         float64 `json:"rms_m"` // where the robot was seen or bridged
	P95M         float64 `json:"p95_m"` // 95 % of the positions lie within it
	MaxM         float64 `json:"max_m"` //
	SeenRMSM     float64 `json:"seen_rms_m"`
	Within2Sigma float64 `json:"within_2_sigma"` // share of the coordinates within two of the stated sigmas of the truth; 0.95 is right
	SurveyM      float64 `json:"survey_m"`       // of it, from the survey alone: root mean square over the floor at the robot's height
	HeadingRMS   float64 `json:"heading_rms_deg"`
	TextureShare float64 `json:"heading_from_top_share"` // share of the run in which the top or a marker gave the heading
	TravelRMS    float64 `json:"heading_from_travel_rms_deg"`
	SeenShare    float64 `json:"seen_share"`
	LostSight    float64 `json:"lost_in_sight_share"`
	StartErrorS  float64 `json:"start_error_s"`
	EndErrorS    float64 `json:"end_error_s"`
}

// Figure is one figure of the run, true and as measured.
type Figure struct {
	Name     string  `json:"figure"` // as in run.json
	Words    string  `json:"words"`
	Unit     string  `json:"unit"` // share, m2, m, s, or empty for a plain number
	True     float64 `json:"true"`
	Measured float64 `json:"measured"`
	Error    float64 `json:"error"` // measured less true
}

// Events counts the events of one kind.
type Events struct {
	Kind   string `json:"kind"`
	Drawn  int    `json:"drawn"`   // that the true path holds
	Found  int    `json:"found"`   // of them
	MadeUp int    `json:"made_up"` // found although there was none
}

// Expect is what to expect of a robot in a layout: the worst of its drawn
// runs, errors without their sign.
type Expect struct {
	Layout       string  `json:"layout"`
	Robot        string  `json:"robot"`
	Runs         int     `json:"runs"`
	Failed       int     `json:"failed"`
	PathRMSM     float64 `json:"path_rms_m"`
	P95M         float64 `json:"path_95_m"`
	HeadingRMS   float64 `json:"heading_rms_deg"`
	ReachShare   float64 `json:"reachable_share_error"`
	CoveredShare float64 `json:"covered_share_error"`
	Redundancy   float64 `json:"redundancy_error"`
	TimesS       float64 `json:"time_error_s"` // of the times to a level and of the plateau
	StartEndS    float64 `json:"start_end_error_s"`
	EventsDrawn  int     `json:"events_drawn"`
	EventsFound  int     `json:"events_found"`
	EventsMadeUp int     `json:"events_made_up"`
}

// Left is a layout, or a robot in one, that was not drawn.
type Left struct {
	Layout string `json:"layout"`
	Robot  string `json:"robot"`
	Reason string `json:"reason"`
}

// Drawn says what such a proof can and cannot show.
const Drawn = "These recordings were drawn with the program's own model of the world: its camera model, a robot with straight sides and the size in lab.yaml, flat floors, a soft shadow and even noise. What else real recordings contain (a robot unlike its entry, a floor that is not flat, a tape read wrongly, people, a lens that the model does not fit) is missing. So the figures show the best that this set-up can give; they do not prove that it does."

// Outside are the checks that do not lean on that picture.
var Outside = []string{
	"A taped line: cut a disc of the robot's diameter and height, lay a tape measure's straight line of known length (2 m or more) on the floor, record the disc while a rod pushes it along the tape from end to end, and measure that as a run. Compare the distance from the first to the last position with the tape, and check how far the path leaves the straight line. The tape is the reference, not swathe.",
	"Two people: have a second person survey marks, room and furniture into a folder of their own without seeing the first survey, for the same camera and recordings, and compare the two with: swathe check LAB --against OTHERLAB",
}

// proofTimes are the figures whose errors are times to a level.
var proofTimes = map[string]bool{}

func init() {
	for _, group := range []string{"time_to_s.", "time_to_reachable_s."} {
		for _, level := range []string{"50", "80", "90", "95", "99"} {
			proofTimes[group+level] = true
		}
	}
	proofTimes["plateau_s"] = true
}

// Sum fills Expect from Runs.
func (p *Proof) Sum() {
	p.Expect = nil
	at := map[[2]string]int{}
	for _, r := range p.Runs {
		key := [2]string{r.Layout, r.Robot}
		k, ok := at[key]
		if !ok {
			k = len(p.Expect)
			at[key] = k
			p.Expect = append(p.Expect, Expect{Layout: r.Layout, Robot: r.Robot,
				PathRMSM: report.NaN, P95M: report.NaN, HeadingRMS: report.NaN, ReachShare: report.NaN, CoveredShare: report.NaN, Redundancy: report.NaN, TimesS: report.NaN, StartEndS: report.NaN})
		}
		e := &p.Expect[k]
		e.Runs++
		if r.Failed != nil {
			e.Failed++
			continue
		}
		e.PathRMSM, e.P95M, e.HeadingRMS = worse(e.PathRMSM, r.Path.RMSM), worse(e.P95M, r.Path.P95M), worse(e.HeadingRMS, r.Path.HeadingRMS)
		e.StartEndS = worse(worse(e.StartEndS, r.Path.StartErrorS), r.Path.EndErrorS)
		for _, f := range r.Figures {
			switch {
			case f.Name == "reachable_share":
				e.ReachShare = worse(e.ReachShare, f.Error)
			case f.Name == "covered_share":
				e.CoveredShare = worse(e.CoveredShare, f.Error)
			case f.Name == "redundancy":
				e.Redundancy = worse(e.Redundancy, f.Error)
			case proofTimes[f.Name]:
				e.TimesS = worse(e.TimesS, f.Error)
			}
		}
		for _, v := range r.Events {
			e.EventsDrawn, e.EventsFound, e.EventsMadeUp = e.EventsDrawn+v.Drawn, e.EventsFound+v.Found, e.EventsMadeUp+v.MadeUp
		}
	}
}

// worse is the larger of two errors without their sign; NaN is no error.
func worse(a, b float64) float64 {
	b = math.Abs(b)
	if !report.Measured(a) || b > a {
		return b
	}
	return a
}
