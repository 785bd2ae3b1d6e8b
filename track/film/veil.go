package film

import (
	"swathe/geom"
	"swathe/track/paint"
	"swathe/track/sight"
)

// Veil makes parts of frames unrecognisable: each becomes large squares of one
// colour, for as long as something moves there and a while after.
type Veil struct {
	size   int // px, of a square
	nx, ny int
	until  []float64 // s, when each square shows again
	always []bool    // which squares never show
	place  []bool    // which show nothing but a robot alone
	core   []bool    // which of them not for the sake of one beside them alone
	open   []bool    // in which the robot is now
}

// The measures of a veil.
const (
	veilShare = 0.06 // of a square that may be a person: a hand is enough
	veilHold  = 0.7  // s: what moves may rest, or be missed in a frame
	veilPlace = 0.3  // of a square that shows the same two things again and again
	veilRobot = 0.7  // of a square that is of the robot, to leave it open
	veilRows  = 36   // squares over the height of a frame: a head is two or three
)

// NewVeil returns a veil for frames of w x h px.
func NewVeil(w, h int) *Veil {
	v := &Veil{size: max(8, h/veilRows)}
	v.nx, v.ny = (w+v.size-1)/v.size, (h+v.size-1)/v.size
	n := v.nx * v.ny
	v.until, v.always, v.place, v.core, v.open = make([]float64, n), make([]bool, n), make([]bool, n), make([]bool, n), make([]bool, n)
	for i := range v.until {
		v.until[i] = -1
	}
	return v
}

// Note marks what may be a person at time t, and where the robot is alone: each pixel
// of mask (see sight.Watcher.Persons) is a square of factor x factor px of the frame.
func (v *Veil) Note(mask *sight.Plane, factor int, t float64) {
	sum := v.count(mask, factor, sight.Somebody)
	for k, n := range v.count(mask, factor, sight.Again) {
		if !v.core[k] { // else it is veiled as it is
			sum[k] += n
		}
	}
	for k, on := range v.around(sum, veilShare) {
		if on {
			v.until[k] = t + veilHold
		}
	}
	for k, n := range v.count(mask, factor, sight.RobotAlone) {
		v.open[k] = float64(n) >= veilRobot*float64(v.size*v.size)
	}
}

// Place veils for good, but for a robot, the squares of which a mask has enough.
func (v *Veil) Place(mask *sight.Plane, factor int) {
	sum := v.count(mask, factor, sight.Somebody)
	for k, on := range v.around(sum, veilPlace) {
		v.place[k] = v.place[k] || on
		v.core[k] = v.core[k] || float64(sum[k]) >= veilPlace*float64(v.size*v.size)
	}
}

// Region veils polygons (px of the frame) for good.
func (v *Veil) Region(polygons [][]geom.Point2) {
	c := paint.New(v.nx*v.size, v.ny*v.size, nil)
	for _, p := range polygons {
		c.Spans(p, func(y, x0, x1 int) {
			for x := x0; x < x1; x++ {
				v.always[y/v.size*v.nx+x/v.size] = true
			}
		})
	}
}

// count is how many px of each square are pixels of mask of a value.
func (v *Veil) count(mask *sight.Plane, factor int, value uint8) []int32 {
	sum := make([]int32, len(v.until))
	for y := 0; y < mask.H; y++ {
		j := min(v.ny-1, (y*factor+factor/2)/v.size)
		for x := 0; x < mask.W; x++ {
			if mask.Pix[y*mask.Stride+x] == value {
				sum[j*v.nx+min(v.nx-1, (x*factor+factor/2)/v.size)] += int32(factor * factor)
			}
		}
	}
	return sum
}

// around tells of each square whether it, or one beside it, has a share or more: the
// edge of a person is half floor.
func (v *Veil) around(sum []int32, share float64) []bool {
	out := make([]bool, len(v.until))
	need := max(1, int32(share*float64(v.size*v.size)))
	for j := 0; j < v.ny; j++ {
		for i := 0; i < v.nx; i++ {
			if sum[j*v.nx+i] < need {
				continue
			}
			for b := max(0, j-1); b <= min(v.ny-1, j+1); b++ {
				for a := max(0, i-1); a <= min(v.nx-1, i+1); a++ {
					out[b*v.nx+a] = true
				}
			}
		}
	}
	return out
}

// covers tells whether square k is covered at time t.
func (v *Veil) covers(k int, t float64) bool {
	u := v.until[k]
	// Far ahead: the film went back.
	return v.always[k] || v.place[k] && !v.open[k] || u >= t && u <= t+2*veilHold
}

// Draw covers the squares that are marked at time t.
func (v *Veil) Draw(c *paint.Canvas, t float64) {
	for j := 0; j < v.ny; j++ {
		for i := 0; i < v.nx; i++ {
			if !v.covers(j*v.nx+i, t) {
				continue
			}
			x0, y0 := i*v.size, j*v.size
			x1, y1 := min(c.W, x0+v.size), min(c.H, y0+v.size)
			var s [3]int
			for y := y0; y < y1; y++ {
				for k := 3 * (y*c.W + x0); k < 3*(y*c.W+x1); k += 3 {
					s[0] += int(c.Pix[k])
					s[1] += int(c.Pix[k+1])
					s[2] += int(c.Pix[k+2])
				}
			}
			n := max(1, (x1-x0)*(y1-y0))
			for y := y0; y < y1; y++ {
				for k := 3 * (y*c.W + x0); k < 3*(y*c.W+x1); k += 3 {
					c.Pix[k], c.Pix[k+1], c.Pix[k+2] = uint8(s[0]/n), uint8(s[1]/n), uint8(s[2]/n)
				}
			}
		}
	}
}
