package residue

import "math"

// lighting is the gains of the pictures over the reference. All are brought into
// the light of the brightest, which has the least noise.
type lighting struct {
	before, after *gain // nil: the reference itself
	into          *gain // of the brightest; nil: the reference
}

func lightOf(ref, before, after *light, floor []bool, clean bool) *lighting {
	l := &lighting{}
	if clean {
		if l.before = fitGain(before, ref, floor); l.before == nil {
			return nil
		}
	}
	if l.after = fitGain(after, ref, floor); l.after == nil {
		return nil
	}
	best := 1.02 // the reference stays unless another is brighter for sure
	for _, g := range []*gain{l.before, l.after} {
		if g != nil && g.middle() > best {
			l.into, best = g, g.middle()
		}
	}
	return l
}

// bring is the part of a picture that r is, in the common light, as codes.
func (l *lighting) bring(r *roi, p *light, own *gain) *light { return l.carry(r, p, own).encoded() }

// carry is bring in linear light.
func (l *lighting) carry(r *roi, p *light, own *gain) *light {
	q := r.cut(p)
	if own == l.into {
		return q
	}
	if own != nil {
		own.undo(q, r.x0, r.y0)
	}
	if l.into != nil {
		l.into.apply(q, r.x0, r.y0)
	}
	return q
}

// spread is the uncertainty of the light between the pictures, as a share: of the
// floor, or of a card if that is more.
func (l *lighting) spread(card float64) float64 {
	s := math.Max(l.after.spread, card)
	if l.before != nil {
		s = math.Max(s, l.before.spread)
	}
	return s
}
