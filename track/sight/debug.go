package sight

import (
	"math"

	"swathe/geom"
	"swathe/track/paint"
)

// DebugPicture shows what one stage of a look saw.
type DebugPicture struct {
	Stage string // the file's name: a number in the order of the work, and a word
	Shows string // in a sentence
	W, H  int
	BGR   []uint8 // packed
}

var (
	debugMark  = paint.Colour{255, 40, 200, 255}
	debugPlace = paint.Colour{60, 230, 255, 255}
	debugEdge  = paint.Colour{255, 230, 60, 255}
	debugGood  = paint.Colour{90, 255, 90, 255}
)

// Debug returns one picture a stage of the look that was just taken at p and
// gave s. The look itself, and those after it, are the same with or without.
func (w *Watcher) Debug(p *Picture, s Sighting) []DebugPicture {
	lastWhole, changed := w.lastWhole, w.changed
	w.whole(p)
	w.lastWhole, w.changed = lastWhole, changed
	out := []DebugPicture{w.debugFrame(p, s), w.debugBackground(), w.debugDifference()}
	if s.Found {
		at := geom.Pose{X: s.X, Y: s.Y, Heading: s.Turn}
		if w.set.Robot.Round() {
			at.Heading = 0
		}
		if q, ok := w.debugOutline(p, at, s.Gain); ok {
			out = append(out, q)
		}
		if q, ok := w.debugTop(p, at); ok {
			out = append(out, q)
		}
	}
	return out
}

// colour turns a picture back into BGR (ITU-R BT.601, full range).
func (p *Picture) colour() []uint8 {
	out := make([]uint8, 3*p.Y.W*p.Y.H)
	for y := 0; y < p.Y.H; y++ {
		cy := min(y/2, p.U.H-1)
		for x := 0; x < p.Y.W; x++ {
			cx := min(x/2, p.U.W-1)
			l := float64(p.Y.Pix[y*p.Y.Stride+x])
			u, v := float64(p.U.Pix[cy*p.U.Stride+cx])-128, float64(p.V.Pix[cy*p.V.Stride+cx])-128
			o := out[3*(y*p.Y.W+x):]
			o[0], o[1], o[2] = byteOf(l+1.772*u), byteOf(l-0.344136*u-0.714136*v), byteOf(l+1.402*v)
		}
	}
	return out
}

func byteOf(v float64) uint8 { return uint8(math.Max(0, math.Min(255, v+0.5))) }

func greyBGR(p *Plane) []uint8 {
	out := make([]uint8, 3*p.W*p.H)
	for y := 0; y < p.H; y++ {
		for x := 0; x < p.W; x++ {
			v := p.Pix[y*p.Stride+x]
			o := out[3*(y*p.W+x):]
			o[0], o[1], o[2] = v, v, v
		}
	}
	return out
}

func (w *Watcher) debugFrame(p *Picture, s Sighting) DebugPicture {
	d := DebugPicture{"1_frame", "the frame as analysed, with the robot's outline", p.Y.W, p.Y.H, p.colour()}
	if s.Found {
		w.drawOutline(paint.New(d.W, d.H, d.BGR), geom.Pose{X: s.X, Y: s.Y, Heading: s.Turn}, debugMark, 1.2, 1, geom.Point2{})
	}
	return d
}

// drawOutline draws the silhouette at a pose, enlarged by k about a corner.
func (w *Watcher) drawOutline(c *paint.Canvas, at geom.Pose, col paint.Colour, width, k float64, corner geom.Point2) {
	var pts []geom.Point2
	for _, q := range geom.Silhouette(w.set.Cam, w.set.Robot, at, w.floor(at), 240).Points {
		pts = append(pts, enlarged(w.fitter.warp(q.Px), k, corner))
	}
	c.Line(pts, true, width, col)
}

// enlarged is where a pixel comes in a part of the picture that begins at
// corner and is drawn k times as large.
func enlarged(p geom.Point2, k float64, corner geom.Point2) geom.Point2 {
	return geom.Point2{X: (p.X-corner.X+0.5)*k - 0.5, Y: (p.Y-corner.Y+0.5)*k - 0.5}
}

func (w *Watcher) debugBackground() DebugPicture {
	return DebugPicture{"2_background", "the empty room that frames are compared with", w.bg.Y.W, w.bg.Y.H, greyBGR(&w.bg.Y)}
}

func (w *Watcher) debugDifference() DebugPicture {
	k := w.bg.Factor
	f := &w.finder.Foreground
	big := NewPlane(f.W*k, f.H*k)
	for y := 0; y < big.H; y++ {
		for x := 0; x < big.W; x++ {
			big.Pix[y*big.W+x] = f.Pix[y/k*f.Stride+x/k]
		}
	}
	d := DebugPicture{"3_difference", "what is not floor (white: certain), and possible places of the robot, the likeliest drawn thickest", big.W, big.H, greyBGR(&big)}
	c := paint.New(d.W, d.H, d.BGR)
	for i, q := range w.finder.Candidates(5, w.set.Robot.Radius()) {
		w.drawOutline(c, q.Pose, debugPlace, math.Max(1, 4-float64(i)), 1, geom.Point2{})
	}
	return d
}

// debugZoom is how many pixels a pixel of the close-up is wide.
const debugZoom = 6

// debugOutline shows the outline close up with the edge found on each ray.
func (w *Watcher) debugOutline(p *Picture, at geom.Pose, gain float64) (d DebugPicture, ok bool) {
	z := w.floor(at)
	mid := geom.Point3{X: at.X, Y: at.Y, Z: z + w.set.Robot.Height}
	c, ok := w.set.Cam.Project(mid)
	r := math.Ceil(1.5 * w.set.Robot.Reach() / w.set.Cam.PixelSize(mid))
	if !ok || !(r >= 3 && r < 400) {
		return d, false
	}
	c = w.fitter.warp(c)
	corner := geom.Point2{X: math.Floor(c.X - r), Y: math.Floor(c.Y - r)}
	n := int(2*r) * debugZoom
	d = DebugPicture{"4_outline", "close-up of the robot: the fitted outline, and the edge found on each ray across it (green: within a pixel)", n, n, make([]uint8, 3*n*n)}
	for y := 0; y < n; y++ {
		for x := 0; x < n; x++ {
			v, _ := p.Y.At(corner.X+(float64(x)+0.5)/debugZoom-0.5, corner.Y+(float64(y)+0.5)/debugZoom-0.5)
			o := d.BGR[3*(y*n+x):]
			o[0], o[1], o[2] = uint8(v), uint8(v), uint8(v)
		}
	}
	cv := paint.New(n, n, d.BGR)
	w.drawOutline(cv, at, debugMark, 1, debugZoom, corner)
	px, off := w.fitter.edges(&p.Y, &w.bg.Y, Fit{Pose: at, Gain: gain}, z)
	for i, e := range px {
		col := debugEdge
		if math.Abs(off[i]) < 1 {
			col = debugGood
		}
		cv.Line([]geom.Point2{enlarged(e, debugZoom, corner)}, false, 3, col)
	}
	return d, true
}

// debugTop unwraps the top: angle to the right, radius downwards.
func (w *Watcher) debugTop(p *Picture, at geom.Pose) (d DebugPicture, ok bool) {
	const wide, high = 720, 120
	z := w.floor(at) + w.set.Robot.Height
	r := inner(w.set.Robot)
	d = DebugPicture{"5_top", "the robot's top unwrapped about its centre: counter-clockwise angle on the floor to the right, radius downwards", wide, high, make([]uint8, 3*wide*high)}
	for x := 0; x < wide; x++ {
		s, c := math.Sincos(at.Heading + 2*math.Pi*float64(x)/wide)
		for y := 0; y < high; y++ {
			q := r * (float64(y) + 0.5) / high
			px, good := w.set.Cam.Project(geom.Point3{X: at.X + q*c, Y: at.Y + q*s, Z: z})
			if !good {
				return d, false
			}
			px = w.fitter.warp(px)
			v, _ := p.Y.At(px.X, px.Y)
			o := d.BGR[3*(y*wide+x):]
			o[0], o[1], o[2] = uint8(v), uint8(v), uint8(v)
		}
	}
	return d, true
}
