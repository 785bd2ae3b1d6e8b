package film

import (
	"math"
	"runtime"
	"sort"
	"sync"

	"swathe/geom"
	"swathe/track/paint"
)

// Painter paints one run onto a film, at the film's own resolution.
type Painter struct {
	pane  Pane
	layer string // the only thing painted; "": all
	cam   *geom.Camera
	w, h  int // px of the film
	at    [4]int
	crop  [4]int

	pix  []int32 // the film's pixels that show floor which is cleaned at some time
	cell []int32 // and the cell that each shows
	log  []Pass
	next int // of log
	now  float64
	n    []uint8 // passes of each cell by now, 4 at most
	lut  [4][3][256]uint8

	tail  []geom.Point2 // pixel of each spot of the path
	body  []uint8       // 1 where the robot shows
	outl  geom.Outline
	drawn []geom.Point2
	line  []geom.Point2
}

// NewPainter prepares a painter for films of w x h px; log is in rising time. layer
// is one of Layers or "". A pane without a place is shown whole, as large as the film.
func NewPainter(p Pane, log []Pass, w, h int, layer string) *Painter {
	c := p.Camera
	r := &Painter{pane: p, layer: layer, cam: geom.NewCamera(c.Width, c.Height, c.Lens, c.R, c.Centre), w: w, h: h, at: p.At, crop: p.Crop, log: log, now: math.Inf(-1)}
	if r.at[2] == 0 {
		r.at, r.crop = [4]int{0, 0, w, h}, [4]int{0, 0, c.Width, c.Height}
	}
	for k, col := range Colours {
		a := float64(col[3]) / 255
		for ch := 0; ch < 3; ch++ {
			for v := 0; v < 256; v++ {
				r.lut[k][ch][v] = uint8(float64(v)*(1-a) + float64(col[2-ch])*a + 0.5) // BGR
			}
		}
	}
	if len(log) > 0 && r.wants("passes") {
		r.n = make([]uint8, p.Nx*p.Ny)
		r.mapFloor()
	}
	r.body = make([]uint8, r.w*r.h)
	for _, s := range p.Path {
		q, ok := r.cam.Project(geom.Point3{X: s.X, Y: s.Y, Z: p.Plan.FloorHeight(geom.Point2{X: s.X, Y: s.Y})})
		if !ok || !s.Seen {
			q = geom.Point2{X: math.NaN()}
		}
		r.tail = append(r.tail, r.film(q))
	}
	return r
}

func (r *Painter) wants(layer string) bool { return r.layer == "" || r.layer == layer }

// film is where a pixel of the camera's frame lies in the film, frame the reverse.
func (r *Painter) film(q geom.Point2) geom.Point2 {
	return geom.Point2{
		X: float64(r.at[0]) + (q.X-float64(r.crop[0])+0.5)*float64(r.at[2])/float64(r.crop[2]) - 0.5,
		Y: float64(r.at[1]) + (q.Y-float64(r.crop[1])+0.5)*float64(r.at[3])/float64(r.crop[3]) - 0.5,
	}
}

func (r *Painter) frame(q geom.Point2) geom.Point2 {
	return geom.Point2{
		X: float64(r.crop[0]) + (q.X-float64(r.at[0])+0.5)*float64(r.crop[2])/float64(r.at[2]) - 0.5,
		Y: float64(r.crop[1]) + (q.Y-float64(r.at[1])+0.5)*float64(r.crop[3])/float64(r.at[3]) - 0.5,
	}
}

// mapFloor finds for each pixel the cell that it shows, once: lens, perspective
// and rugs are all in it. A pixel belongs to the cell that holds the floor
// point at its centre; floor behind furniture is left out.
func (r *Painter) mapFloor() {
	ever := make([]bool, len(r.n))
	for _, q := range r.log {
		ever[q.Cell] = true
	}
	// Some rows each: of a large film this is the longest wait before it begins.
	type part struct{ pix, cell []int32 }
	parts := make([]part, runtime.NumCPU())
	var all sync.WaitGroup
	for k := range parts {
		all.Add(1)
		go func() {
			defer all.Done()
			y0, y1 := r.at[1]+r.at[3]*k/len(parts), r.at[1]+r.at[3]*(k+1)/len(parts)
			parts[k].pix, parts[k].cell = r.mapRows(ever, max(0, y0), min(r.h, y1))
		}()
	}
	all.Wait()
	for _, p := range parts {
		r.pix, r.cell = append(r.pix, p.pix...), append(r.cell, p.cell...)
	}
}

// mapRows is mapFloor of the film's rows from y0 up to y1.
func (r *Painter) mapRows(ever []bool, y0, y1 int) (pix, cell []int32) {
	p := &r.pane
	rugs := len(p.Plan.Areas) > 0
	for y := y0; y < y1; y++ {
		for x := max(0, r.at[0]); x < min(r.w, r.at[0]+r.at[2]); x++ {
			px := r.frame(geom.Point2{X: float64(x), Y: float64(y)})
			f, ok := r.cam.Floor(px, 0)
			z := 0.0
			if ok && rugs {
				if z = p.Plan.FloorHeight(f); z != 0 {
					f, ok = r.cam.Floor(px, z)
				}
			}
			if !ok {
				continue
			}
			i, j := int(math.Floor((f.X-p.X0)/p.Cell)), int(math.Floor((f.Y-p.Y0)/p.Cell))
			if i < 0 || j < 0 || i >= p.Nx || j >= p.Ny || !ever[j*p.Nx+i] {
				continue
			}
			if hid, _ := geom.Hidden(r.cam, &p.Plan, geom.Point3{X: f.X, Y: f.Y, Z: z}); hid {
				continue
			}
			pix = append(pix, int32(y*r.w+x))
			cell = append(cell, int32(j*p.Nx+i))
		}
	}
	return pix, cell
}

// advance brings the counts to time t, s in the recording.
func (r *Painter) advance(t float64) {
	if t < r.now {
		r.next = 0
		clear(r.n)
	}
	r.now = t
	for r.next < len(r.log) && float64(r.log[r.next].T) <= t {
		if n := &r.n[r.log[r.next].Cell]; *n < 4 {
			*n++
		}
		r.next++
	}
}

// Paint paints onto the film's frame of time t: floor that was cleaned until then,
// but not onto the robot, and the tail of the path.
func (r *Painter) Paint(c *paint.Canvas, t float64) {
	c.Clip = r.at
	defer func() { c.Clip = [4]int{} }()
	k := r.spot(t)
	if r.wants("passes") {
		r.paintFloor(c, k, t)
	}
	if r.wants("path") {
		r.drawTail(c, k, t)
	}
}

func (r *Painter) paintFloor(c *paint.Canvas, k int, t float64) {
	if len(r.pix) == 0 {
		return
	}
	r.advance(t)
	shown := r.markBody(c, k, t, 1)
	if c.A == nil {
		for i, p := range r.pix {
			n := r.n[r.cell[i]]
			if n == 0 || r.body[p] != 0 {
				continue
			}
			l := &r.lut[n-1]
			q := c.Pix[3*p : 3*p+3 : 3*p+3]
			q[0], q[1], q[2] = l[0][q[0]], l[1][q[1]], l[2][q[2]]
		}
	} else {
		for i, p := range r.pix {
			if n := r.n[r.cell[i]]; n > 0 && r.body[p] == 0 {
				col := Colours[n-1]
				c.Pix[3*p], c.Pix[3*p+1], c.Pix[3*p+2], c.A[p] = col[2], col[1], col[0], col[3]
			}
		}
	}
	if shown {
		r.markBody(c, k, t, 0)
	}
}

// spot is the index of the first sample of the path behind t.
func (r *Painter) spot(t float64) int {
	return sort.Search(len(r.pane.Path), func(i int) bool { return r.pane.Path[i].T > t })
}

// Pose returns where the robot is at time t; ok is false where nobody knows.
func (r *Painter) Pose(t float64) (p geom.Pose, ok bool) {
	return r.pose(r.spot(t), t)
}

func (r *Painter) pose(k int, t float64) (p geom.Pose, ok bool) {
	path := r.pane.Path
	if len(path) == 0 {
		return p, false
	}
	a, b := path[max(0, k-1)], path[min(k, len(path)-1)]
	if !a.Seen || !b.Seen || b.T-a.T > 1 {
		return p, false
	}
	u := 0.0
	if b.T > a.T {
		u = math.Max(0, math.Min(1, (t-a.T)/(b.T-a.T)))
	}
	p = geom.Pose{X: a.X + u*(b.X-a.X), Y: a.Y + u*(b.Y-a.Y), Heading: math.NaN()}
	if a.H != nil && b.H != nil {
		p.Heading = *a.H + u*(*b.H-*a.H)
	}
	return p, true
}

// markBody sets the pixels of the robot to v; false if it does not show.
func (r *Painter) markBody(c *paint.Canvas, k int, t float64, v uint8) bool {
	p, ok := r.pose(k, t)
	if !ok || !r.outl.SetSilhouette(r.cam, r.pane.Robot, p, r.pane.Plan.FloorHeight(geom.Point2{X: p.X, Y: p.Y}), 120) {
		return false
	}
	r.drawn = r.drawn[:0]
	for i := range r.outl.Points {
		r.drawn = append(r.drawn, r.film(r.outl.Points[i].Px))
	}
	c.Spans(r.drawn, func(y, x0, x1 int) {
		row := r.body[y*r.w+x0 : y*r.w+x1]
		for i := range row {
			row[i] = v
		}
	})
	return true
}

// tailColour is of the path: the complement of the floor's blue, light and dark
// enough for any floor by its darker rim, TailRim.
var (
	tailColour = paint.Colour{255, 176, 32, 255}
	TailRim    = paint.Colour{60, 30, 0, 150}
)

// drawTail draws the last seconds of the path up to the robot.
func (r *Painter) drawTail(c *paint.Canvas, k int, t float64) {
	if r.pane.Tail <= 0 {
		return
	}
	width := math.Max(1.5, float64(r.at[3])/400)
	from := k
	for from > 0 && r.pane.Path[from-1].T >= t-r.pane.Tail {
		from--
	}
	r.line = r.line[:0]
	flush := func() {
		if len(r.line) > 1 {
			c.Line(r.line, false, width+1.6, TailRim)
			c.Line(r.line, false, width, tailColour)
		}
		r.line = r.line[:0]
	}
	for i := from; i < k; i++ {
		if math.IsNaN(r.tail[i].X) {
			flush()
			continue
		}
		r.line = append(r.line, r.tail[i])
	}
	if p, ok := r.pose(k, t); ok {
		if q, ok := r.cam.Project(geom.Point3{X: p.X, Y: p.Y, Z: r.pane.Plan.FloorHeight(geom.Point2{X: p.X, Y: p.Y})}); ok {
			r.line = append(r.line, r.film(q))
		}
	}
	flush()
}
