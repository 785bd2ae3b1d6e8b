package geom

import (
	"fmt"
	"math"
	"slices"
)

// misfits says of every mark that was left out where the others put it, and
// what slip would explain it; why is the account that left it out, or nil.
func (sol *Solution) misfits(why *explanation) {
	s := sol.s
	if why != nil && why.wrong == nil {
		sol.Warnings = append(sol.Warnings, why.says)
	}
	told := make([]bool, len(s.spec.Marks))
	for i, off := range s.off {
		if !off || told[i] {
			continue
		}
		j := sol.partner(i, why)
		var says string
		if j >= 0 {
			told[j] = true
			says = fmt.Sprintf("swap the pixels of marks %d and %d: each lies where the other should. Both were left out", i+1, j+1)
		} else {
			says = s.spec.Marks[i].where(sol, i)
			if slip := sol.slip(i, why); slip != "" {
				says += "; " + slip
			}
			says += ". It was left out"
		}
		for _, k := range []int{i, j} {
			if k < 0 {
				continue
			}
			m := Misfit{Mark: k, Says: says, At: Point2{math.NaN(), math.NaN()}, Px: Point2{math.NaN(), math.NaN()}, OffM: math.NaN()}
			mark := s.spec.Marks[k]
			if f, ok := sol.Camera.Floor(mark.Pixel, mark.Floor.Z); ok {
				m.At, m.OffM = f, f.Dist(Point2{mark.Floor.X, mark.Floor.Y})
			}
			if q, ok := sol.Camera.Project(mark.Floor); ok {
				m.Px = q
			}
			sol.Misfits = append(sol.Misfits, m)
		}
		sol.Warnings = append(sol.Warnings, says)
	}
}

// where says where the others put mark i.
func (m Mark) where(sol *Solution, i int) string {
	says := fmt.Sprintf("mark %d does not fit: by the other marks it ", i+1)
	f, ok := sol.Camera.Floor(m.Pixel, m.Floor.Z)
	if ok {
		says += fmt.Sprintf("is at %.2f, %.2f, not at %g, %g", f.X, f.Y, m.Floor.X, m.Floor.Y)
	}
	q, shows := sol.Camera.Project(m.Floor)
	switch {
	case shows && sol.Camera.InFrame(q) && ok:
		says += fmt.Sprintf(", or appears at pixel [%.1f, %.1f], not at [%g, %g]", q.X, q.Y, m.Pixel.X, m.Pixel.Y)
	case shows && !ok:
		says += fmt.Sprintf("appears at pixel [%.1f, %.1f]; [%g, %g] does not show the floor", q.X, q.Y, m.Pixel.X, m.Pixel.Y)
	case !ok:
		says += fmt.Sprintf("is not visible; check its floor point, %g, %g, and its pixel", m.Floor.X, m.Floor.Y)
	}
	return says
}

// agrees tells how far mark i, had it been entered as m, would lie from where
// the camera puts it, in standard deviations.
func (sol *Solution) agrees(i int, m Mark) float64 {
	t := *sol.s
	t.spec.Marks = slices.Clone(t.spec.Marks)
	t.spec.Marks[i] = m
	r, err := t.run(t.values(sol.x), math.Inf(1))
	if err != nil {
		return math.Inf(1)
	}
	return t.surprise(r, i)
}

// partner is the mark that mark i was exchanged with; -1 if with none.
func (sol *Solution) partner(i int, why *explanation) int {
	s := sol.s
	if why != nil && why.says == exchanged && slices.Contains(why.wrong, i) {
		return why.wrong[0] + why.wrong[1] - i
	}
	for j, off := range s.off {
		if !off || j <= i {
			continue
		}
		a, b := s.spec.Marks[i], s.spec.Marks[j]
		a.Pixel, b.Pixel = b.Pixel, a.Pixel
		if sol.agrees(i, a) < s.opts.Outlier && sol.agrees(j, b) < s.opts.Outlier {
			return j
		}
	}
	return -1
}

// slip says which slip would explain mark i; "" if none does.
func (sol *Solution) slip(i int, why *explanation) string {
	if why != nil && why.says != "" && slices.Contains(why.wrong, i) {
		return why.says
	}
	best, says := sol.s.opts.Outlier, ""
	for _, r := range sol.s.spec.Marks[i].repairs() {
		if d := sol.agrees(i, r.mark); d < best {
			best, says = d, r.says
		}
	}
	return says
}

// alone says of an account whose good marks do not settle a camera without the
// wrong ones what to mend.
func (e *explanation) alone() string {
	switch {
	case e.says == exchanged:
		return fmt.Sprintf("swap the pixels of marks %s: each lies where the other should", listed(e.wrong))
	case e.says != "":
		return fmt.Sprintf("mark %s does not fit: %s", listed(e.wrong), e.says)
	}
	return fmt.Sprintf("check floor and pixel of marks %s: they do not fit, and the camera cannot be solved from the others", listed(e.wrong))
}
