package compare

import (
	"fmt"
	"math"
	"strings"

	"swathe/geom"
)

// Part is one piece of a layout, by what two surveys of it are held against each
// other.
type Part struct {
	Name    string       `json:"name,omitempty"`
	Kind    string       `json:"kind,omitempty"` // of an area
	HeightM float64      `json:"height_m"`
	CornerM [][2]float64 `json:"corners_m"` // floor, counter-clockwise
}

// Layout is what must be the same for two runs to be compared, by the names of Parts.
type Layout map[string][]Part

// Parts of a layout that must be the same for two runs to be compared.
var Parts = []string{"room", "obstacles", "overhead", "areas", "test_objects"}

// named are the parts whose names count, for their figures are told by name.
var named = map[string]bool{"areas": true, "test_objects": true}

// LayoutOf returns a plan's layout.
func LayoutOf(p *geom.Plan) Layout {
	out := Layout{Parts[0]: {{CornerM: cornersOf(geom.RingCorners(p.Room))}}}
	for i, pieces := range [][]geom.Piece{p.Obstacles, p.Overhead, p.Areas, p.TestObjects} {
		parts := []Part{}
		for _, x := range pieces {
			parts = append(parts, Part{x.Name, x.Kind, x.Height, cornersOf(geom.RingCorners(x.Outline))})
		}
		out[Parts[i+1]] = parts
	}
	return out
}

func cornersOf(c []geom.Point2) [][2]float64 {
	out := make([][2]float64, len(c))
	for i, p := range c {
		out[i] = [2]float64{p.X, p.Y}
	}
	return out
}

// survey returns how far apart two surveys may have put one corner, m, where each
// knows it to sigma along each axis. Their distance follows Rayleigh's law with
// sqrt(2) sigma; four times that is exceeded by one corner in 3,000.
func survey(sigma float64) float64 { return 4 * math.Sqrt2 * sigma }

// Same tells whether two layouts are the same within what two surveys can tell,
// sigma (m) being that of a corner along an axis.
func (a Layout) Same(b Layout, sigma float64) bool { return apartIn(a, b, sigma) == "" }

// apartIn says what of two layouts is not the same within what two surveys can
// tell, sigma (m) being that of a corner along an axis; empty if all is.
func apartIn(a, b Layout, sigma float64) string {
	tol := survey(sigma)
	var out []string
	for _, what := range Parts {
		left := append([]Part(nil), b[what]...)
		for _, x := range a[what] {
			k, d := nearest(x, left, named[what])
			switch {
			case k < 0:
				out = append(out, fmt.Sprintf("%s is missing", x.called(what)))
				continue
			case d > tol:
				out = append(out, fmt.Sprintf("%s is off by %.0f mm", x.called(what), 1000*d))
			}
			left = append(left[:k:k], left[k+1:]...)
		}
		for _, y := range left {
			out = append(out, fmt.Sprintf("%s is new", y.called(what)))
		}
	}
	if len(out) == 0 {
		return ""
	}
	return fmt.Sprintf("%s (up to %.0f mm may come of the survey)", strings.Join(out, ", "), 1000*tol)
}

// called names a part in a sentence.
func (p Part) called(what string) string {
	if what == "room" {
		return "the room"
	}
	return fmt.Sprintf("%s (%s)", p.Name, strings.ReplaceAll(what, "_", " "))
}

// sameThing is the farthest, m, that a thing of another name lies from where the
// first one did and is still told as moved rather than as another.
const sameThing = 0.5

// nearest returns the part that x may be, its index and how far its corners or
// height are off, m; -1 if there is none.
func nearest(x Part, among []Part, byName bool) (at int, d float64) {
	at, d = -1, math.Inf(1)
	for k, y := range among {
		if byName && x.Name != y.Name || x.Kind != y.Kind {
			continue
		}
		if o := offBy(x, y); o < d && (o <= sameThing || x.Name == y.Name) {
			at, d = k, o
		}
	}
	return at, d
}

// offBy returns the largest distance of two parts' corners, m, or the difference
// of their heights if that is more; +Inf if they have not as many corners. Where a
// ring begins does not matter.
func offBy(x, y Part) float64 {
	n := len(x.CornerM)
	if n != len(y.CornerM) {
		return math.Inf(1)
	}
	best := math.Inf(1)
	for shift := range n {
		worst := 0.0
		for i, c := range x.CornerM {
			q := y.CornerM[(i+shift)%n]
			worst = math.Max(worst, math.Hypot(c[0]-q[0], c[1]-q[1]))
		}
		best = math.Min(best, worst)
	}
	return math.Max(best, math.Abs(x.HeightM-y.HeightM))
}
