package conduct

import "fmt"

// Kinds of an Event, as events.csv and run.json spell them.
const (
	Spin      = "spin"
	Pause     = "pause"
	Stuck     = "stuck"
	Contact   = "contact"
	Near      = "near"
	Revisit   = "revisit"
	EdgeRetry = "edge_retry"
	Swerve    = "swerve"
	Dock      = "dock"
	Undock    = "undock"
	Carried   = "carried"
	Hidden    = "hidden"
	Outside   = "outside"
)

// What a word of an event may be.
const (
	RunEnded          = "run ended"              // then, of a dock
	BetweenRecordings = "between two recordings" // reason, of what was hidden
)

// Event is something that the robot did or that befell it.
type Event struct {
	Kind       string             // one of the constants above
	Start, End float64            // s from the first frame
	X, Y       float64            // floor, m: where it began; the middle of what stays in one place; of an edge retry, on the boundary; NaN: not known
	Size       float64            // in Unit
	Unit       string             // deg, s, m, times
	Figures    map[string]float64 // what belongs to the kind, names with their unit: turn_deg; NaN: not measured
	Words      map[string]string  // what belongs to the kind and is no number: beside
}

// Duration returns how long the event lasted, s.
func (e Event) Duration() float64 { return e.End - e.Start }

// String is the event for a log; what readers are told is made of its figures
// by package report.
func (e Event) String() string {
	return fmt.Sprintf("%s %.2f-%.2f s at (%.2f, %.2f): %.3g %s %v %v", e.Kind, e.Start, e.End, e.X, e.Y, e.Size, e.Unit, e.Figures, e.Words)
}
