package sight

// Sighting is what one look at one frame gave. A miss is a Sighting with a
// reason. Positions are of the turning centre on the floor, metres.
type Sighting struct {
	T     float64 `json:"t"`     // s from the first frame of the run
	Frame int     `json:"frame"` // counted over all parts of the run
	Found bool    `json:"found"`
	Why   string  `json:"why,omitempty"` // of a miss: one of the Why constants, or a hiding thing's name behind "hidden: "

	X       float64    `json:"x,omitempty"`
	Y       float64    `json:"y,omitempty"`
	Cov     [3]float64 `json:"cov,omitempty"`     // var x, cov xy, var y, m^2
	Visible float64    `json:"visible,omitempty"` // share of the outline not hidden by the plan's things
	Support float64    `json:"support,omitempty"` // share of the visible outline with an edge on it
	RMS     float64    `json:"rms,omitempty"`     // px, scatter of the edges about the outline
	Edge    float64    `json:"edge,omitempty"`    // grey levels per px
	Rim     float64    `json:"rim,omitempty"`     // share of the visible outline inside of which it looks like the robot
	Gain    float64    `json:"gain,omitempty"`    // light over the background's

	Source    string  `json:"source,omitempty"` // of the turn: texture, marker, outline; empty if none
	Turn      float64 `json:"turn,omitempty"`   // rad; of a texture against an arbitrary reference
	TurnSigma float64 `json:"turn_sigma,omitempty"`
	Match     float64 `json:"match,omitempty"`

	// Beside and BesideVar are a Turn's, of the same moment.
	Beside    [2]float64 `json:"-"`
	BesideVar float64    `json:"-"`

	// Revised: the run decided otherwise than the frame alone.
	Revised bool `json:"revised,omitempty"`
	// Again: of a frame that was looked at before. It counts where nothing was found then,
	// or, if it Settles, where what was found was in doubt.
	Again   bool `json:"again,omitempty"`
	Settles bool `json:"settles,omitempty"`
	// Doubt: the outline is there, but the picture of the top is not.
	Doubt bool `json:"doubt,omitempty"`
	// Crowd is the share of a ring round the robot (or round where it was last
	// seen) that is neither floor nor robot: a shadow, another thing, legs.
	Crowd float64 `json:"crowd,omitempty"`
	// Person is who was seen nearest to the robot (or to where it was last seen);
	// nil: nobody was.
	Person *Person `json:"person,omitempty"`
	// Gone: where the robot was last seen its floor shows.
	Gone bool `json:"gone,omitempty"`
	// Shift is how far the whole picture has moved since the background, px.
	Shift float64 `json:"shift,omitempty"`
	// Adrift is for how long the picture has not fitted the background at all, s.
	Adrift float64 `json:"adrift,omitempty"`
	// Changed is the share of the picture that differs from the background.
	Changed float64 `json:"changed,omitempty"`
}

// Why a look missed.
const (
	WhyNothing = "nothing of the robot's size was seen"
	WhyCovered = "something else covers the place"
	WhyPerson  = "a person covers the place"
	WhyBad     = "the frame is damaged"
	WhyNoFrame = "nothing was recorded"
	WhyHidden  = "hidden: "
	WhyOutside = "outside the picture"
	// WhyStanding is said of the last look of a run in which nothing moved and
	// the room's own picture holds the robot.
	WhyStanding = "it has stood still throughout"
)
