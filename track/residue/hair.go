package residue

import (
	"math"
	"slices"

	"swathe/geom"
)

// Strand is a stretch of hair between two ends or crossings: points of the
// floor, m.
type Strand []geom.Point2

func (s Strand) length() (l float64) {
	for i := 1; i < len(s); i++ {
		l += s[i].Dist(s[i-1])
	}
	return l
}

// hairFine is how many times as finely as its pixels hair is thinned.
const hairFine = 3

// Tresses is what was found of hair in one picture of a patch.
type Tresses struct {
	Strands []Strand
	Length  float64 // m, of all, one over another counted each
	Middle  float64 // m, of the middle lines alone
	Shared  float64 // m of Middle that two strands have together
	Ends    int     // loose ends
	Wide    float64 // px, of a strand
	Tangled float64 // m of Length where strands meet
}

// tress is one connected piece of hair.
type tress struct {
	lines   []Strand
	middle  float64   // m
	bridges []float64 // m, middle lines that two strands have together
	area    float64   // m2
	ends    int
	cross   bool // strands meet in it
	scale   float64
}

// hidden is the area that lies beneath other strands, m2, of strands of width w:
// two that share a middle line of length b lie on each other over a rhombus with
// a diagonal of b + w.
func (t tress) hidden(w float64) (a float64) {
	for _, b := range t.bridges {
		a += w * max(w, (b+w)/2)
	}
	return a
}

// strands follows hair within the patch along its middle: what is covered is
// thinned to a line (Zhang and Suen, "A Fast Parallel Algorithm for Thinning
// Digital Patterns", Communications of the ACM 27(3), 1984) on a finer grid,
// twigs shorter than the hair is wide are taken off, and each line is smoothed
// over a pixel before it is measured, for a line of pixel steps is too
// long by up to 8 %. A line ends half its width before its tip, as the middle
// line of a round end does. Where strands lie close or cross at a sharp angle
// their middle lines are one, counted for both (doubled); what they cover tells
// how many run side by side, by the width that most of them have.
func (c *change) strands(o *small, g Ground) (h Tresses) {
	a := smooth(o.alpha, c.w, c.h, 0.5)
	label, n := components(dilate(o.mask, c.w, c.h, 1), c.w, c.h)
	area := make([]float64, n+1)
	for i, l := range spreadLabels(label, dilate(o.mask, c.w, c.h, edgeReach), c.w, c.h) {
		if l > 0 && c.in[i] && c.open[i] {
			area[l] += float64(o.alpha[i]) * float64(c.area[i])
		}
	}
	var all []tress
	var widths []float64
	lists := make([][]int32, n+1)
	for i, l := range label {
		if l > 0 {
			lists[l] = append(lists[l], int32(i))
		}
	}
	for l := 1; l <= n; l++ {
		x0, y0, x1, y1 := c.w, c.h, 0, 0
		for _, i := range lists[l] {
			x, y := int(i)%c.w, int(i)/c.w
			x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x), max(y1, y)
		}
		x0, y0, x1, y1 = max(0, x0-1), max(0, y0-1), min(c.w-1, x1+1), min(c.h-1, y1+1)
		w, hh := x1-x0+1, y1-y0+1
		part := make([]float32, w*hh)
		for _, i := range lists[l] {
			part[(int(i)/c.w-y0)*w+int(i)%c.w-x0] = a[i]
		}
		lines, twice, ends, cross := thinLines(part, w, hh)
		t := tress{ends: ends, cross: cross, area: area[l]}
		for k, line := range lines {
			var s Strand
			for _, q := range line {
				px := geom.Point2{X: float64(c.x0+x0) + q.X, Y: float64(c.y0+y0) + q.Y}
				i := min(max(y0+int(q.Y+0.5), 0), c.h-1)*c.w + min(max(x0+int(q.X+0.5), 0), c.w-1)
				if at, ok := g.Floor(px); ok && c.in[i] && c.open[i] {
					s = append(s, at)
					t.scale = math.Sqrt(float64(c.area[i]))
				}
			}
			if len(s) > 1 {
				t.lines = append(t.lines, s)
				widths = c.widths(widths, o, line, s, geom.Point2{X: float64(x0), Y: float64(y0)})
				t.middle += s.length()
				if twice[k] {
					t.bridges = append(t.bridges, s.length())
				}
			}
		}
		if len(t.lines) > 0 {
			all = append(all, t)
		}
	}
	w := geom.Median(widths)
	if len(widths) < 30 {
		w = 0
	}
	for _, t := range all {
		h.Strands = append(h.Strands, t.lines...)
		h.Middle += t.middle
		h.Ends += t.ends
		l := t.middle
		for _, b := range t.bridges {
			l += b
			h.Shared += b
		}
		if w > 0 {
			h.Wide = w / t.scale
			// A strand that lies by itself is as long as its middle; one that folds
			// upon itself covers more than that.
			if by := (t.area+t.hidden(w))/w - math.Pi/8*w*float64(t.ends); t.cross || by > folded*l {
				t.cross, l = true, max(l, by)
			}
		}
		h.Length += l
		if t.cross {
			h.Tangled += l
		}
	}
	return h
}

// hairLevel is the share of a pixel above which hair is followed: below a half,
// for a strand narrower than a pixel never fills one.
const hairLevel = 0.35

// thinLines gives the middle lines of one piece, in its pixels, how many loose
// ends they have and whether any meet.
func thinLines(part []float32, w, h int) (lines [][]geom.Point2, twice []bool, ends int, cross bool) {
	if w < 3 || h < 3 {
		return nil, nil, 0, false
	}
	big, bw, bh := enlarge(part, w, h, hairFine)
	in := make([]bool, len(big))
	area := 0
	for i, v := range big {
		if in[i] = v > hairLevel; in[i] {
			area++
		}
	}
	fillHoles(in, bw, bh, hairFine*hairFine)
	thin(in, bw, bh)
	long := 0
	for _, v := range in {
		if v {
			long++
		}
	}
	if long == 0 {
		return nil, nil, 0, false
	}
	wide := float64(area) / float64(long)
	prune(in, bw, bh, wide)
	slim(in, bw, bh)
	lines, loose, cross := trace(in, bw, bh)
	twice = doubled(lines, loose, wide)
	covered := 0.0
	for _, v := range big {
		covered += float64(v)
	}
	// A round end that is blurred as far as it is wide falls to half its strength
	// at pi / 4 of its radius.
	half := math.Pi / 4 * covered / float64(long) / 2
	for k, l := range lines {
		l = soften(l, hairFine)
		if loose[k][1] {
			l = toTip(big, bw, bh, l, half)
			ends++
		}
		if loose[k][0] {
			slices.Reverse(l)
			l = toTip(big, bw, bh, l, half)
			ends++
		}
		lines[k] = l
		for i := range lines[k] {
			lines[k][i] = lines[k][i].Scale(1.0 / hairFine)
		}
	}
	return lines, twice, ends, cross
}

// toTip takes the last point of a line to half the strand's width before its
// tip, the place where the strand's strength falls to a half.
func toTip(big []float32, w, h int, l []geom.Point2, half float64) []geom.Point2 {
	n := len(l)
	if n < 3*hairFine {
		return l
	}
	end, back := l[n-1], l[n-2*hairFine]
	d := end.Sub(back)
	if d.Norm() == 0 {
		return l
	}
	d = d.Scale(1 / d.Norm())
	at := func(p geom.Point2) float32 {
		x, y := int(p.X), int(p.Y)
		if p.X < 0 || p.Y < 0 || x >= w-1 || y >= h-1 {
			return 0
		}
		fx, fy := float32(p.X-float64(x)), float32(p.Y-float64(y))
		a, b := big[y*w+x:], big[(y+1)*w+x:]
		return (a[0]*(1-fx)+a[1]*fx)*(1-fy) + (b[0]*(1-fx)+b[1]*fx)*fy
	}
	var level []float64
	for _, p := range l[max(0, n-6*hairFine) : n-hairFine] {
		level = append(level, float64(at(p)))
	}
	cut := float32(geom.Median(level) / 2)
	tip := 0.0
	for tip < 3*hairFine && at(end.Add(d.Scale(tip))) > cut {
		tip += 0.2
	}
	return append(l[:n-1:n-1], end.Add(d.Scale(max(tip-half, -hairFine))))
}

// slim takes away the corners of stairs, so that a pixel of a line has two
// neighbours and no more.
func slim(in []bool, w, h int) {
	for i, v := range in {
		if !v || degree(in, w, h, i) != 1 {
			continue
		}
		n := 0
		neighbours(i, w, h, func(j int) {
			if in[j] {
				n++
			}
		})
		if n > 1 {
			in[i] = false
		}
	}
}

// fillHoles fills holes of fewer than most pixels.
func fillHoles(in []bool, w, h, most int) {
	out := make([]bool, len(in))
	for i, v := range in {
		out[i] = !v
	}
	for _, p := range pieces(out, w, h) {
		if len(p) < most {
			for _, i := range p {
				in[i] = true
			}
		}
	}
}

// thin reduces a mask to lines one pixel wide that keep its pieces and holes.
func thin(in []bool, w, h int) {
	at := func(x, y int) int {
		if x < 0 || y < 0 || x >= w || y >= h || !in[y*w+x] {
			return 0
		}
		return 1
	}
	for {
		changed := false
		for step := range 2 {
			var drop []int
			for i, v := range in {
				if !v {
					continue
				}
				x, y := i%w, i/w
				p := [8]int{at(x, y-1), at(x+1, y-1), at(x+1, y), at(x+1, y+1), at(x, y+1), at(x-1, y+1), at(x-1, y), at(x-1, y-1)}
				sum, turns := 0, 0
				for k := range p {
					sum += p[k]
					if p[k] == 0 && p[(k+1)%8] == 1 {
						turns++
					}
				}
				if sum < 2 || sum > 6 || turns != 1 {
					continue
				}
				if step == 0 && p[0]*p[2]*p[4] == 0 && p[2]*p[4]*p[6] == 0 || step == 1 && p[0]*p[2]*p[6] == 0 && p[0]*p[4]*p[6] == 0 {
					drop = append(drop, i)
				}
			}
			for _, i := range drop {
				in[i] = false
			}
			changed = changed || len(drop) > 0
		}
		if !changed {
			return
		}
	}
}

// degree is how many lines leave a pixel of a thinned mask: changes from off to
// on round it.
func degree(in []bool, w, h, i int) int {
	x, y := i%w, i/w
	ring := [8][2]int{{0, -1}, {1, -1}, {1, 0}, {1, 1}, {0, 1}, {-1, 1}, {-1, 0}, {-1, -1}}
	on := func(k int) bool {
		X, Y := x+ring[k%8][0], y+ring[k%8][1]
		return X >= 0 && Y >= 0 && X < w && Y < h && in[Y*w+X]
	}
	n := 0
	for k := range 8 {
		if !on(k) && on(k+1) {
			n++
		}
	}
	return n
}

// prune takes off twigs: lines from an end to a crossing that are shorter than
// the hair is wide.
func prune(in []bool, w, h int, wide float64) {
	for i, v := range in {
		if !v || degree(in, w, h, i) != 1 {
			continue
		}
		path := []int{i}
		been := map[int]bool{i: true}
		for len(path) < int(wide)+1 {
			next, n := -1, 0
			neighbours(path[len(path)-1], w, h, func(j int) {
				if in[j] && !been[j] {
					next = j
					n++
				}
			})
			if n == 0 {
				path = nil // a piece by itself
				break
			}
			if degree(in, w, h, next) > 2 || n > 1 {
				break
			}
			been[next] = true
			path = append(path, next)
		}
		if len(path) > 0 && len(path) <= int(wide) {
			for _, j := range path {
				in[j] = false
			}
		}
	}
}

// trace takes a thinned mask apart into lines between ends and crossings; each
// step between two neighbours belongs to one line. loose tells of each line's two
// ends whether nothing goes on from there, cross whether lines meet.
func trace(in []bool, w, h int) (lines [][]geom.Point2, loose [][2]bool, cross bool) {
	at := func(i int) geom.Point2 { return geom.Point2{X: float64(i % w), Y: float64(i / w)} }
	node := map[int]bool{}
	for i, v := range in {
		if v {
			if d := degree(in, w, h, i); d != 2 {
				node[i] = true
				cross = cross || d > 2
			}
		}
	}
	done := map[[2]int]bool{}
	step := func(a, b int) bool { // whether the step is new; it is not any more
		k := [2]int{min(a, b), max(a, b)}
		if done[k] {
			return false
		}
		done[k] = true
		return true
	}
	// beside tells whether the corner between a and b is a pixel of the line too:
	// then the line goes by it.
	beside := func(a, b int) bool {
		dx, dy := b%w-a%w, b/w-a/w
		return dx != 0 && dy != 0 && (in[a+dx] || in[a+dy*w])
	}
	follow := func(a, b int) {
		line := []geom.Point2{at(a), at(b)}
		prev, first := a, a
		for !node[b] {
			next := -1
			neighbours(b, w, h, func(j int) {
				if in[j] && j != prev && !beside(b, j) && next < 0 && !done[[2]int{min(b, j), max(b, j)}] {
					next = j
				}
			})
			if next < 0 {
				break
			}
			step(b, next)
			prev, b = b, next
			line = append(line, at(b))
		}
		lines = append(lines, line)
		loose = append(loose, [2]bool{degree(in, w, h, first) == 1, degree(in, w, h, b) == 1})
	}
	begin := func(i int) {
		neighbours(i, w, h, func(j int) {
			if in[j] && !beside(i, j) && step(i, j) {
				follow(i, j)
			}
		})
	}
	for i, v := range in {
		if v && node[i] {
			begin(i)
		}
	}
	for i, v := range in { // rings have no node
		if v && !node[i] {
			begin(i)
		}
	}
	return lines, loose, cross
}

// soften smooths a line by a Gaussian of sigma steps along it. Its ends stay: so
// near them the window is the shorter one to both sides.
func soften(l []geom.Point2, sigma float64) []geom.Point2 {
	out := make([]geom.Point2, len(l))
	r := int(math.Ceil(2.5 * sigma))
	for i := range l {
		k := min(r, i, len(l)-1-i)
		var sum geom.Point2
		den := 0.0
		for j := -k; j <= k; j++ {
			a := math.Exp(-sq(float64(j)) / (2 * sigma * sigma))
			sum = sum.Add(l[i+j].Scale(a))
			den += a
		}
		out[i] = sum.Scale(1 / den)
	}
	return out
}

// count is how many strands there are: each has two ends, but for those that
// hide in a crossing.
func (h Tresses) count() int { return (h.Ends + 1) / 2 }
