package residue

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"swathe/geom"
)

// Kinds of soil.
const (
	Stain  = "stain"
	Debris = "debris"
	Hair   = "hair"
)

// Patch is a part of the floor that was soiled.
type Patch struct {
	Name    string        `json:"name"`
	Kind    string        `json:"kind"`
	Outline []geom.Point2 `json:"outline"` // floor, m
	Card    []Field       `json:"card"`    // fields of a card beside it; none: colours stay as the camera has them
}

// Job is pictures of one floor from one place, and the patches on it.
type Job struct {
	Ground   Ground
	Residual float64 // m, how far the marks of a picture taken by hand contradict each other; 0 for the lab's camera
	Sigma    float64 // m, standard uncertainty of a mark: of areas' and lengths' scale
	Room     []geom.Point2
	Covered  [][]geom.Point2 // what stands on the floor
	Patches  []Patch
	Before   *Picture
	After    *Picture
	Clean    *Picture // nil: none was taken
	Shots    bool     // make the pictures too
}

// Figures are what was found of one patch. What could not be measured is nil, and
// Reason says why.
type Figures struct {
	Kind           string                `json:"kind"`
	BeforeM2       *float64              `json:"before_m2"`
	AfterM2        *float64              `json:"after_m2"`
	LeftShare      *float64              `json:"left_share"` // of the area; of hair the length
	BeforeCount    *int                  `json:"before_count"`
	AfterCount     *int                  `json:"after_count"`
	BeforeLengthM  *float64              `json:"before_length_m"`
	AfterLengthM   *float64              `json:"after_length_m"`
	DifferenceMean *float64              `json:"difference_mean"` // CIEDE2000 to the clean floor, of what is left
	DifferenceP95  *float64              `json:"difference_p95"`
	BeforeMean     *float64              `json:"before_difference_mean"`
	BeforeP95      *float64              `json:"before_difference_p95"`
	LeftM2Diff     *float64              `json:"left_m2_times_difference"` // area left times its mean difference
	NewM2          *float64              `json:"new_m2"`                   // soiled after where it was clean before
	NewLengthM     *float64              `json:"new_length_m"`             // hair after where none lay before: moved there, or dropped
	NewCount       *int                  `json:"new_count"`                // strands or grains there
	LargestM2      []float64             `json:"largest_m2"`               // the largest pieces left
	LeftBy         map[string]int        `json:"left_by"`                  // pieces left: in the corner, by the edge, in the open
	Interval95     map[string][2]float64 `json:"interval_95"`
	CardDifference *float64              `json:"card_difference"` // CIEDE2000 by which the card's fields are off still, mean; nil: no card, or it does not serve
	ShadeM2        *float64              `json:"shade_m2"`        // looks like a shadow or a reflection after, not counted
	MaskedM2       *float64              `json:"masked_m2"`       // of the patch, beneath something large in either picture, not counted in both
	PixelM         float64               `json:"pixel_m"`
	Reason         *string               `json:"reason"`

	Cells []Cell `json:"cells,omitempty"` // soil by place, for joining it with the passes
	Shots *Shots `json:"shots,omitempty"` // for the pictures
}

// CellM is the side of a Cell, m.
const CellM = 0.01

// Cell is the soil on a square of the floor of side CellM, m2.
type Cell struct {
	X      float64 `json:"x"` // its middle, m
	Y      float64 `json:"y"`
	Before float64 `json:"before"`
	After  float64 `json:"after"`
}

// Measure says what was left on the floor. The error is a *Mismatch where the
// pictures do not belong together.
func Measure(j Job) (map[string]*Figures, error) {
	if err := j.check(); err != nil {
		return nil, err
	}
	w, h := j.Before.W, j.Before.H
	floor := raster(j.Ground, j.Room, w, h)
	for _, ring := range j.Covered {
		for i, m := range raster(j.Ground, ring, w, h) {
			floor[i] = floor[i] && !m
		}
	}
	side := sideAt(j.Ground, j.Patches[0].Outline)
	before, after := j.Before.light(), j.After.light()
	var clean *light
	ref, name := before, "before"
	if j.Clean != nil {
		clean = j.Clean.light()
		ref, name = clean, "clean"
	}
	follow := func(p *light, its string) (*light, error) {
		dx, dy, err := aligned(ref, p, floor, side, [2]string{name, its})
		if err != nil || math.Hypot(dx, dy) < 0.08 {
			return p, err
		}
		return p.moved(dx, dy), nil
	}
	var err error
	if j.Clean != nil {
		if before, err = follow(before, "before"); err != nil {
			return nil, err
		}
	}
	if after, err = follow(after, "after"); err != nil {
		return nil, err
	}
	lit := lightOf(ref, before, after, floor, clean != nil)
	if lit == nil {
		return nil, &Mismatch{"include more floor around the patches: too little is visible to compare the light of the pictures"}
	}
	for _, g := range []*gain{lit.before, lit.after} {
		if t := g.tint(); t > mostTint {
			return nil, &Mismatch{fmt.Sprintf("take all pictures under one light with fixed white balance: the floor's red, green and blue change by a factor of %.1f between them", t)}
		}
	}
	out := map[string]*Figures{}
	for _, p := range j.Patches {
		out[p.Name] = j.patch(p, lit, clean, before, after, floor)
	}
	return out, nil
}

func (j Job) check() error {
	for _, p := range []struct {
		name string
		pic  *Picture
	}{{"before", j.Before}, {"after", j.After}, {"clean", j.Clean}} {
		if p.pic == nil && p.name == "clean" {
			continue
		}
		if err := p.pic.Validate(); err != nil {
			return fmt.Errorf("the %s picture: %w", p.name, err)
		}
		if p.pic.W != j.Before.W || p.pic.H != j.Before.H {
			return &Mismatch{fmt.Sprintf("take all pictures with one camera from one place: the %s picture has %d x %d pixels, the before picture %d x %d", p.name, p.pic.W, p.pic.H, j.Before.W, j.Before.H)}
		}
	}
	if len(j.Patches) == 0 {
		return errors.New("there is no patch to measure")
	}
	if !(j.Residual <= MaxMarkResidual) {
		return &Mismatch{fmt.Sprintf("measure floor and pixel of each mark again: the marks disagree by %.1f mm, more than %.0f mm", j.Residual*1000, MaxMarkResidual*1000)}
	}
	return nil
}

func sideAt(g Ground, outline []geom.Point2) float64 {
	var mid geom.Point2
	for _, p := range outline {
		mid = mid.Add(p.Scale(1 / float64(len(outline))))
	}
	px, ok := g.Pixel(mid)
	if !ok {
		return 0
	}
	return math.Sqrt(pixelArea(g, px))
}

// notes collects reasons.
type notes []string

func (n *notes) add(format string, a ...any) { *n = append(*n, fmt.Sprintf(format, a...)) }

func (n notes) text() *string {
	if len(n) == 0 {
		return nil
	}
	s := strings.Join(n, "; ")
	return &s
}

func (j Job) patch(p Patch, lit *lighting, clean, before, after *light, floor []bool) *Figures {
	f := &Figures{Kind: p.Kind, Interval95: map[string][2]float64{}}
	var why notes
	defer func() { f.Reason = why.text() }()
	r, ok := newROI(j.Ground, p.Outline, j.Room, before.w, before.h)
	if !ok {
		why.add("the picture does not show the whole patch")
		return f
	}
	f.PixelM = r.side
	hidden, whole := 0.0, 0.0
	for i := range r.open {
		r.open[i] = r.open[i] && floor[(r.y0+i/r.w)*before.w+r.x0+i%r.w]
		if r.in[i] {
			whole += float64(r.area[i])
			if !r.open[i] {
				hidden += float64(r.area[i])
			}
		}
	}
	if hidden > 0.01*whole {
		why.add("%.0f %% of the patch is covered by an object and not counted", 100*hidden/whole)
	}
	tuned, contradicts := j.cards(&why, p.Card, lit, clean, before, after)
	if r.tune = tuned; tuned != nil {
		f.CardDifference = &tuned.miss
	}
	b, a := lit.bring(r, before, lit.before), lit.bring(r, after, lit.after)
	if clean != nil {
		r.clean = lit.bring(r, clean, nil)
	}
	cb, ca := changes(r, b, a, p.Kind)
	if f.mask(&why, r, cb, ca, whole-hidden) {
		cb, ca = changes(r, b, a, p.Kind)
	}
	if f.MaskedM2 != nil && *f.MaskedM2 > mostMasked*(whole-hidden) {
		why.add("too little of the patch is left to measure")
		return f
	}
	if clean == nil {
		why.add("no clean picture: the clean floor is estimated from around the soil, and its pattern counts as noise")
		if t := cb.patternDifference(); p.Kind == Stain && t > 3*JustNoticeable {
			why.add("a picture of the clean floor is needed: this floor's own pattern differs by %.1f (CIEDE2000), as much as a stain", t)
			return f
		}
		if s := math.Max(falseShare(cb, p.Kind), falseShare(ca, p.Kind)); s > mostFalse {
			why.add("a picture of the clean floor is needed: %.1f %% of the clean floor beside the patch looks soiled too, so its pattern cannot be separated from %s", 100*s, p.Kind)
			return f
		}
		if p.Kind == Debris && math.Sqrt(cb.luma) > plainNoise {
			why.add("a picture of the clean floor is needed: grains as small as this floor's pattern would be missed")
			return f
		}
	}
	cb.inLight, ca.inLight = p.Kind == Debris, p.Kind == Debris
	if j.Shots {
		f.Shots = newShots(j.Ground, p.Outline, b, a, cb, ca)
	}
	switch p.Kind {
	case Stain:
		j.measureStain(f, &why, cb, ca, lit.spread(contradicts), whole)
	case Debris:
		j.measureDebris(f, &why, cb, ca, whole)
	case Hair:
		j.measureHair(f, &why, cb, ca)
	}
	return f
}

func (j Job) measureStain(f *Figures, why *notes, cb, ca *change, light, whole float64) {
	sb := cb.stain()
	sa := f.unshaded(why, cb, ca, sb)
	ab, aa := cb.square(sb), ca.square(sa)
	f.BeforeM2, f.AfterM2 = &ab, &aa
	ub, ua := j.areaSigma(cb, sb.alpha, sb.half, ab), j.areaSigma(ca, sa.alpha, sa.half, aa)
	if j.Clean == nil {
		// What the floor's pattern adds to the outline; seen on drawn floors.
		ub, ua = math.Hypot(ub, 0.03*ab), math.Hypot(ua, 0.03*aa)
	}
	f.interval("before_m2", ab, ub)
	f.interval("after_m2", aa, ua)
	f.share(why, ab, aa, ub, ua, whole)
	spots := spotsOf(cb, sb.half)
	nb, na := len(spots), left(ca, sa.half, sb.half, spots)
	f.BeforeCount, f.AfterCount = &nb, &na
	if m, p := cb.differences(sb); m == m {
		f.BeforeMean, f.BeforeP95 = &m, &p
	}
	if m, p := ca.differences(sa); m == m {
		l := m * aa
		f.DifferenceMean, f.DifferenceP95, f.LeftM2Diff = &m, &p, &l
		// Light's uncertainty is one of lightness: a share of light is a third of
		// that in L*, which is up to 100; the rest is of soil that is not even.
		u := math.Hypot(33*light, 0.01*m+0.1)
		if f.CardDifference != nil {
			// The card's own error is in both colours; what they are apart has a part of it.
			u = math.Hypot(u, *f.CardDifference*min(1, m/20))
		}
		f.interval("difference_mean", m, u)
	} else {
		why.add("nothing of the stain can be seen any more, so it has no colour difference")
	}
	n := fresh(ca, sa.alpha, sb.half)
	f.NewM2 = &n
	across(why, cb, sb.half, "before")
	across(why, ca, sa.half, "after")
	f.Cells = cells(j.Ground, cb, sb.alpha, sa.alpha)
	f.largest(ca, sa.half, sa.alpha)
}

// narrowShare of the pieces may be narrower than three pixels: with more, count
// and area are those of pixels, not of grains.
const narrowShare = 0.25

func (j Job) measureDebris(f *Figures, why *notes, cb, ca *change, whole float64) {
	ob := cb.things(nil, false)
	oa := ca.things(ob, false)
	gb, ga := cb.grains(ob, j.Ground), ca.grains(oa, j.Ground)
	narrow, all := 0, 0
	for _, g := range append(slices.Clone(gb), ga...) {
		all++
		if g.Wide < 3 {
			narrow++
		}
	}
	ab, aa := cb.covered(ob), ca.covered(oa)
	f.Cells = cells(j.Ground, cb, ob.alpha, oa.alpha)
	if float64(narrow) > narrowShare*float64(all) {
		why.add("%d of %d pieces are narrower than 3 pixels (%.1f mm): too small to count or measure; take the picture from nearer", narrow, all, 3000*f.PixelM)
		return
	}
	f.BeforeM2, f.AfterM2 = &ab, &aa
	ub := math.Hypot(j.areaSigma(cb, ob.alpha, ob.mask, ab), 0.06*ab)
	ua := math.Hypot(j.areaSigma(ca, oa.alpha, oa.mask, aa), 0.06*aa)
	f.interval("before_m2", ab, ub)
	f.interval("after_m2", aa, ua)
	f.share(why, ab, aa, ub, ua, whole)
	nb, na := len(gb), len(ga)
	f.BeforeCount, f.AfterCount = &nb, &na
	joined := func(n int, mask []bool, c *change) float64 {
		return math.Max(0.5*float64(n-len(pieces(mask, c.w, c.h))), 0.01*float64(n))
	}
	f.interval("before_count", float64(nb), joined(nb, ob.mask, cb))
	f.interval("after_count", float64(na), joined(na, oa.mask, ca))
	n := fresh(ca, oa.alpha, ob.mask)
	f.NewM2 = &n
	slices.SortFunc(ga, func(a, b Grain) int { return int(math.Copysign(1, b.Area-a.Area)) })
	f.LeftBy = map[string]int{"corner": 0, "edge": 0, "open": 0}
	beside, added := dilate(ob.mask, cb.w, cb.h, edgeReach), 0
	for i, g := range ga {
		if px, ok := j.Ground.Pixel(g.At); ok && !beside[int(px.Y+0.5-float64(ca.y0))*ca.w+int(px.X+0.5)-ca.x0] {
			added++
		}
		if i < 5 {
			f.LargestM2 = append(f.LargestM2, g.Area)
		}
		f.LeftBy[placeOf(j.Room, g.At)]++
	}
	f.NewCount = &added
}

func (j Job) measureHair(f *Figures, why *notes, cb, ca *change) {
	ob := cb.things(nil, true)
	j.setHair(f, why, [2]*change{cb, ca}, [2]*small{ob, ca.things(ob, true)})
}

// setHair sets the figures of hair by what was found before and after.
func (j Job) setHair(f *Figures, why *notes, of [2]*change, found [2]*small) {
	cb, ca, ob, oa := of[0], of[1], found[0], found[1]
	hb, ha := cb.strands(ob, j.Ground), ca.strands(oa, j.Ground)
	f.BeforeLengthM, f.AfterLengthM = &hb.Length, &ha.Length
	sigma := func(h Tresses) float64 {
		ends := 0.3 * f.PixelM * math.Sqrt(float64(h.Ends))
		return math.Sqrt(sq((h.Length-h.Middle)/2) + sq(ends) + sq(0.02*h.Length) + sq(0.03*h.Tangled) + sq(j.scale()/2*h.Length))
	}
	ub, ua := sigma(hb), sigma(ha)
	f.interval("before_length_m", hb.Length, ub)
	f.interval("after_length_m", ha.Length, ua)
	f.share(why, hb.Length, ha.Length, ub, ua, math.NaN())
	ab, aa := cb.covered(ob), ca.covered(oa)
	f.Cells = cells(j.Ground, cb, ob.alpha, oa.alpha)
	nb, na := hb.count(), ha.count()
	f.BeforeCount, f.AfterCount = &nb, &na
	elsewhere := ca.strands(oa.apart(ca, ob), j.Ground)
	length, strands := min(elsewhere.Length, ha.Length), min(elsewhere.count(), na)
	f.NewLengthM, f.NewCount = &length, &strands
	f.interval("new_length_m", length, sigma(elsewhere))
	if length > 0.05*ha.Length && strands > 0 {
		why.add("%.0f %% of the hair that is left lies where none was before: it was moved or dropped again", 100*length/ha.Length)
	}
	f.interval("before_count", float64(nb), 0.15*float64(nb))
	f.interval("after_count", float64(na), 0.15*float64(na))
	if j.Clean == nil {
		why.add("the area of strands needs a picture of the clean floor")
		return
	}
	f.BeforeM2, f.AfterM2 = &ab, &aa
	blur := 0.05
	if ob.pure == 0 {
		blur = 0.1
		why.add("strands are narrower than 3 pixels, so their area depends on their darkest pixels; their length does not")
	}
	f.interval("before_m2", ab, math.Hypot(blur*ab, j.areaSigma(cb, ob.alpha, ob.mask, ab)))
	f.interval("after_m2", aa, math.Hypot(blur*aa, j.areaSigma(ca, oa.alpha, oa.mask, aa)))
	n := fresh(ca, oa.alpha, ob.mask)
	f.NewM2 = &n
}

// share sets the share left and its interval. least is the patch's area, of which
// something is needed for a share to mean anything; NaN: any will do.
func (f *Figures) share(why *notes, before, after, ub, ua, patch float64) {
	if !(before > 0) || before < 0.002*patch {
		why.add("no soil was found in the patch before the run, so the share left cannot be given")
		return
	}
	s := after / before
	f.LeftShare = &s
	f.interval("left_share", s, math.Hypot(ua/before, s*ub/before))
}

// interval sets value +- 1.96 sigma, not below 0.
func (f *Figures) interval(name string, v, sigma float64) {
	f.Interval95[name] = [2]float64{math.Max(0, v-1.96*sigma), v + 1.96*sigma}
}

// scale is the uncertainty of an area by the marks, as a share: twice that of a
// length over half a metre.
func (j Job) scale() float64 { return 2 * math.Max(math.Max(j.Residual, j.Sigma), 0.0003) / 0.5 }

// areaSigma is the standard uncertainty of an area: noise of the pixels at its
// edges, a tenth of a pixel by which its outline may lie, the marks, and what
// noise alone may show.
func (j Job) areaSigma(c *change, alpha []float32, half []bool, area float64) float64 {
	edge, length := 0.0, 0.0
	for i, a := range alpha {
		if !c.in[i] || a == 0 {
			continue
		}
		if a != 1 {
			edge += sq(0.1 * float64(c.area[i]))
		}
		if x := i % c.w; x > 0 && half[i] != half[i-1] {
			length += c.side
		}
		if i >= c.w && half[i] != half[i-c.w] {
			length += c.side
		}
	}
	return math.Sqrt(edge + sq(0.07*length*math.Pi/4*c.side) + sq(j.scale()*area) + sq(6*c.side*c.side))
}
