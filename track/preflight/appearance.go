// Package preflight looks at a few frames of a recording before it is measured:
// whether the robot stands out from its floor, how the light is, whether the
// camera hangs where its marks were surveyed, and what room and robot look like.
// It is pure Go over pictures that somebody else decodes.
//
// What could not be judged is nil, never 0.
package preflight

import (
	"math"
	"slices"

	"swathe/geom"
	"swathe/track/sight"
)

// Tone is a colour as the recording stores it, each part 0 to 255.
type Tone struct {
	Blue  float64 `json:"blue"`
	Green float64 `json:"green"`
	Red   float64 `json:"red"`
}

// Grey returns the tone's luminance, 0 to 255 (ITU-R BT.601).
func (t Tone) Grey() float64 { return 0.114*t.Blue + 0.587*t.Green + 0.299*t.Red }

// Appearance is what a recording shows of a room and a robot.
type Appearance struct {
	Floor        *Tone           `json:"floor"`         // of the open floor, median
	FloorTexture *float64        `json:"floor_texture"` // grey levels, standard deviation over it, the light's slow changes taken out
	Noise        *float64        `json:"noise"`         // grey levels, standard deviation of a pixel from frame to frame
	Top          *Tone           `json:"robot"`         // of the robot's top, median
	TopTexture   *float64        `json:"robot_texture"` // grey levels, standard deviation over it
	Pieces       map[string]Tone `json:"pieces"`        // of obstacles and overhead pieces that show, by name
}

// tone samples a picture at pixels and returns the middle of each channel; ok
// is false where fewer than eight show.
func tone(y, u, v *sight.Plane, px []geom.Point2) (Tone, bool) {
	var ys, us, vs []float64
	for _, p := range px {
		a, okA := y.At(p.X, p.Y)
		b, okB := u.At((p.X-0.5)/2, (p.Y-0.5)/2)
		c, okC := v.At((p.X-0.5)/2, (p.Y-0.5)/2)
		if okA && okB && okC {
			ys, us, vs = append(ys, float64(a)), append(us, float64(b)), append(vs, float64(c))
		}
	}
	if len(ys) < 8 {
		return Tone{}, false
	}
	return fromYUV(middle(ys), middle(us), middle(vs)), true
}

// fromYUV is the inverse of ITU-R BT.601 in full range.
func fromYUV(y, u, v float64) Tone {
	u, v = u-128, v-128
	hold := func(x float64) float64 { return math.Max(0, math.Min(255, x)) }
	return Tone{Blue: hold(y + 1.772*u), Green: hold(y - 0.344136*u - 0.714136*v), Red: hold(y + 1.402*v)}
}

// middle is the median; it reorders v.
func middle(v []float64) float64 {
	slices.Sort(v)
	return v[len(v)/2]
}

// known is nil for what could not be measured.
func known(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}
