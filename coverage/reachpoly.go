package coverage

import (
	"math"

	"swathe/geom"
)

// polyReach is the reach of a robot that is not round: the free placements of
// its turning centre, by cell centre, at each of a number of headings.
type polyReach struct {
	g       *Grid
	turns   []float64 // rad
	free    []*bitmap // by heading, the part connected with the start
	outline []geom.Point2
}

// minPolyCell is the finest cell on which placements of an outline are sought,
// m: finer ones cost memory and gain less than the step in heading loses.
const minPolyCell = 0.005

// newPolyReach finds the placements that connect with the start: a step to a
// neighbouring cell at the same heading, or a turn to the next heading in place.
// ok is false if there is none within slack of the start, at any heading.
func newPolyReach(r room, outline []geom.Point2, cell float64, headings int, start geom.Pose, slack float64) (*polyReach, bool) {
	g := r.openGrid(math.Max(cell, minPolyCell))
	p := &polyReach{g: g, outline: outline}
	ws := r.boundary()
	for k := 0; k < headings; k++ {
		a := 2 * math.Pi * float64(k) / float64(headings)
		p.turns = append(p.turns, a)
		p.free = append(p.free, freeAt(g, r, ws, outline, a))
	}
	return p, p.connect(start, slack)
}

// turned returns the outline at a heading, about the origin.
func turned(outline []geom.Point2, a float64) []geom.Point2 {
	out := make([]geom.Point2, len(outline))
	for i, q := range outline {
		out[i] = geom.Pose{Heading: a}.At(q)
	}
	return out
}

// freeAt returns the placements at one heading in which the outline is in the
// open floor. The outline meets an edge where the centre is in the parallelogram
// edge - side, for one of its sides; it holds a block entirely where it holds
// one of the block's corners.
func freeAt(g *Grid, r room, ws []wall, outline []geom.Point2, a float64) *bitmap {
	free := newBitmap(g.Nx, g.Ny)
	for j := 0; j < g.Ny; j++ {
		for i := 0; i < g.Nx; i++ {
			if g.Flags[j*g.Nx+i]&FlagOpen != 0 {
				free.bits[j*free.words+i>>6] |= 1 << (i & 63)
			}
		}
	}
	body := turned(outline, a)
	var quad [4]geom.Point2
	for _, w := range ws {
		for i, p := range body {
			q := body[(i+1)%len(body)]
			quad[0], quad[1], quad[2], quad[3] = w.a.Sub(p), w.a.Sub(q), w.b.Sub(q), w.b.Sub(p)
			free.clearConvex(g, quad[:])
		}
	}
	for _, b := range r.blocks {
		mirrored := make(ring, len(body))
		for i, p := range body {
			mirrored[i] = b.ring[0].Sub(p)
		}
		g.eachSpan(mirrored, func(j, i0, i1 int) { free.clear(j, i0, i1) })
	}
	return free
}

// run is a run of free cells of one row at one heading.
type run struct{ i0, i1, parent int32 }

// connect keeps of the free placements the part that connects with the start.
func (p *polyReach) connect(start geom.Pose, slack float64) bool {
	g := p.g
	var runs []run
	// first[h*ny+j] is where the runs of row j at heading h begin.
	first := make([]int32, len(p.free)*g.Ny+1)
	for h, f := range p.free {
		for j := 0; j < g.Ny; j++ {
			first[h*g.Ny+j] = int32(len(runs))
			f.eachRun(j, func(i0, i1 int) {
				runs = append(runs, run{int32(i0), int32(i1), int32(len(runs))})
			})
		}
	}
	first[len(first)-1] = int32(len(runs))
	find := func(k int32) int32 {
		for runs[k].parent != k {
			runs[k].parent = runs[runs[k].parent].parent
			k = runs[k].parent
		}
		return k
	}
	join := func(ra, rb int) {
		a, ae := first[ra], first[ra+1]
		b, be := first[rb], first[rb+1]
		for a < ae && b < be {
			if runs[a].i0 < runs[b].i1 && runs[b].i0 < runs[a].i1 {
				runs[find(a)].parent = find(b)
			}
			if runs[a].i1 < runs[b].i1 {
				a++
			} else {
				b++
			}
		}
	}
	for h := range p.free {
		next := (h + 1) % len(p.free)
		for j := 0; j < g.Ny; j++ {
			if j+1 < g.Ny {
				join(h*g.Ny+j, h*g.Ny+j+1)
			}
			join(h*g.Ny+j, next*g.Ny+j)
		}
	}
	from := p.startRun(start, slack, runs, first)
	if from < 0 {
		return false
	}
	root := find(from)
	for h, f := range p.free {
		for j := 0; j < g.Ny; j++ {
			for k := first[h*g.Ny+j]; k < first[h*g.Ny+j+1]; k++ {
				if find(k) != root {
					f.clear(j, int(runs[k].i0), int(runs[k].i1))
				}
			}
		}
	}
	return true
}

// startRun returns the run that holds the free placement nearest to the start
// and within slack of it: at the heading nearest to the start's, else at any.
func (p *polyReach) startRun(start geom.Pose, slack float64, runs []run, first []int32) int32 {
	g := p.g
	at := geom.Point2{X: start.X, Y: start.Y}
	_, j0 := g.cellOf(at)
	reach := int(slack/g.Cell) + 2
	n := len(p.turns)
	own := int(math.Round(start.Heading/(2*math.Pi)*float64(n)))%n + n
	for try := 0; try < n; try++ {
		// own, own+1, own-1, own+2, ...
		h := (own + (try+1)/2*(1-2*(try&1)) + n) % n
		best, who := slack+g.Cell/2, int32(-1)
		for j := max(0, j0-reach); j <= min(g.Ny-1, j0+reach); j++ {
			for k := first[h*g.Ny+j]; k < first[h*g.Ny+j+1]; k++ {
				i, _ := g.cellOf(at)
				i = min(max(i, int(runs[k].i0)), int(runs[k].i1)-1)
				if d := g.Centre(j*g.Nx + i).Dist(at); d < best {
					best, who = d, k
				}
			}
		}
		if who >= 0 {
			return who
		}
	}
	return -1
}

func (p *polyReach) line(t geom.Tool, side ...geom.SideBrush) ([]bool, float64) {
	// Half a cell apart, no cell that the line passes is stepped over.
	n := max(1, int(math.Ceil(t.Width/(p.g.Cell/2))))
	var spots []geom.Point2
	for i := 0; i <= n; i++ {
		spots = append(spots, geom.Point2{X: t.Ahead, Y: t.Left - t.Width/2 + t.Width*float64(i)/float64(n)})
	}
	for _, b := range side {
		spots = append(spots, geom.Point2{X: b.Ahead, Y: b.Left})
		m := max(8, int(math.Ceil(2*math.Pi*b.Reach/p.g.Cell)))
		for i := 0; i < m; i++ {
			s, c := math.Sincos(2 * math.Pi * float64(i) / float64(m))
			spots = append(spots, geom.Point2{X: b.Ahead + b.Reach*c, Y: b.Left + b.Reach*s})
		}
	}
	return p.dilate(spots)
}

func (p *polyReach) body() ([]bool, float64) {
	var spots []geom.Point2
	for i, a := range p.outline {
		b := p.outline[(i+1)%len(p.outline)]
		n := max(1, int(math.Ceil(a.Dist(b)/p.g.Cell)))
		for k := 0; k < n; k++ {
			u := float64(k) / float64(n)
			spots = append(spots, geom.Point2{X: a.X + u*(b.X-a.X), Y: a.Y + u*(b.Y-a.Y)})
		}
	}
	// The inside, coarsely: wherever the robot can move at all its outline
	// passes over the rest.
	lo, hi := ring(p.outline).bounds()
	for y := lo.Y; y <= hi.Y; y += 4 * p.g.Cell {
		for x := lo.X; x <= hi.X; x += 4 * p.g.Cell {
			if q := (geom.Point2{X: x, Y: y}); ring(p.outline).contains(q) {
				spots = append(spots, q)
			}
		}
	}
	return p.dilate(spots)
}

// dilate returns the open floor under any of the body points for any placement.
func (p *polyReach) dilate(spots []geom.Point2) ([]bool, float64) {
	out := newBitmap(p.g.Nx, p.g.Ny)
	done := map[[2]int]bool{}
	for h, f := range p.free {
		clear(done)
		for _, q := range spots {
			d := geom.Pose{Heading: p.turns[h]}.At(q)
			off := [2]int{int(math.Round(d.X / p.g.Cell)), int(math.Round(d.Y / p.g.Cell))}
			if !done[off] {
				done[off] = true
				out.orShifted(f, off[0], off[1])
			}
		}
	}
	mask := make([]bool, len(p.g.Flags))
	n := 0
	for k, f := range p.g.Flags {
		if f&FlagOpen != 0 && out.get(k%p.g.Nx, k/p.g.Nx) {
			mask[k] = true
			n++
		}
	}
	return mask, float64(n) * p.g.Cell * p.g.Cell
}
