package conduct

import (
	"fmt"
	"math"
)

// Kinds of an Event, as events.csv and run.json spell them.
const (
	Spin      = "spin"
	Pause     = "pause"
	Stuck     = "stuck"
	Contact   = "contact"
	Revisit   = "revisit"
	EdgeRetry = "edge_retry"
	Swerve    = "swerve"
	Dock      = "dock"
	Undock    = "undock"
	Carried   = "carried"
	Hidden    = "hidden"
	Outside   = "outside"
)

// Event is something that the robot did or that befell it.
type Event struct {
	Kind       string             // one of the constants above
	Start, End float64            // s from the first frame
	X, Y       float64            // floor, m: where it began; the middle of what stays in one place; of an edge retry, on the boundary; NaN: not known
	Size       float64            // in Unit
	Unit       string             // deg, s, m, times
	Sentence   string             // for a reader
	Figures    map[string]float64 // what belongs to the kind, names with their unit: turn_deg; NaN: not measured
	Words      map[string]string  // what belongs to the kind and is no number: beside
}

// Duration returns how long the event lasted, s.
func (e Event) Duration() float64 { return e.End - e.Start }

// at writes a time of the recording as m:ss, or h:mm:ss.
func at(t float64) string {
	n := int(math.Round(t))
	if n < 3600 {
		return fmt.Sprintf("%d:%02d", n/60, n%60)
	}
	return fmt.Sprintf("%d:%02d:%02d", n/3600, n/60%60, n%60)
}

// seconds writes a duration.
func seconds(s float64) string {
	if s < 9.95 {
		return fmt.Sprintf("%.1f s", s)
	}
	if s < 119.5 {
		return fmt.Sprintf("%.0f s", s)
	}
	n := int(math.Round(s))
	if n%60 == 0 {
		return fmt.Sprintf("%d min", n/60)
	}
	return fmt.Sprintf("%d min %d s", n/60, n%60)
}

// place writes where on the floor.
func place(x, y float64) string {
	if math.IsNaN(x) || math.IsNaN(y) {
		return "at a place that is not known"
	}
	return fmt.Sprintf("at (%.2f, %.2f) m", x, y)
}

// counted writes a number of times.
func counted(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return fmt.Sprintf("%d times", n)
}
