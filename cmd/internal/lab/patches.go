package lab

import (
	"fmt"
	"math"

	"swathe/geom"
	"swathe/track/residue"
)

// leastPatch is the smallest patch that makes sense, m2: 2 x 2 cm.
const leastPatch = 4e-4

// patches reads the soiled parts of a layout's floor; room is nil where it could
// not be read.
func (r *reader) patches(b *block, room []geom.Point2) (out []residue.Patch) {
	list, ok := r.entries(b.val("patches"), b.key("patches"), b.label("patches"), "a block with one key for each patch")
	if !ok {
		return nil
	}
	for _, e := range list {
		what := b.label("patches") + " " + e.name
		if !r.name(e, "a patch") {
			continue
		}
		m, ok := r.block(e.value, e.key, what, "outline", "kind", "card")
		if !ok {
			continue
		}
		p := residue.Patch{Name: e.name}
		if m.need("kind", "Write its kind: stain, debris or hair.") {
			if word, ok := r.text(m.val("kind"), m.label("kind")); ok {
				p.Kind = word
				if word != residue.Stain && word != residue.Debris && word != residue.Hair {
					r.refuse(m.val("kind"), "%s is %q; it should be stain, debris or hair.", m.label("kind"), word)
				}
			}
		}
		if m.need("outline", "Write its corners on the floor: outline: [[x, y], ...] in metres.") {
			if pts, ok := r.polygon(m.val("outline"), m.label("outline")); ok {
				p.Outline = pts
				area := 0.0
				for i, a := range pts {
					c := pts[(i+1)%len(pts)]
					area += (a.X*c.Y - c.X*a.Y) / 2
				}
				if math.Abs(area) < leastPatch {
					r.refuse(m.val("outline"), "%s is %.2g cm2; a patch should be at least 2 x 2 cm. Give coordinates in metres.", m.label("outline"), 1e4*math.Abs(area))
				} else if n := outsideOf(pts, room); n > 0 {
					r.refuse(m.val("outline"), "%s: corner %d lies outside the room. Correct the patch or the room's outline.", m.label("outline"), n)
				}
			}
		}
		if m.has("card") {
			p.Card = r.card(m, room)
		}
		out = append(out, p)
	}
	return out
}

// card reads the fields of a grey or colour card that lies beside a patch.
func (r *reader) card(m *block, room []geom.Point2) (out []residue.Field) {
	const want = "a list of its fields: [{outline: [[x, y], ...], srgb: [r, g, b]}, ...]"
	list, ok := r.list(m.val("card"), m.label("card"), want)
	if !ok {
		return nil
	}
	for i, n := range list {
		b, ok := r.block(n, n, fmt.Sprintf("%s, field %d", m.label("card"), i+1), "outline", "srgb", "lab")
		if !ok {
			continue
		}
		var f residue.Field
		if b.need("outline", "Write its corners on the floor: outline: [[x, y], ...] in metres.") {
			if f.Outline, ok = r.polygon(b.val("outline"), b.label("outline")); ok {
				if n := outsideOf(f.Outline, room); n > 0 {
					r.refuse(b.val("outline"), "%s: corner %d lies outside the room.", b.label("outline"), n)
				}
			}
		}
		switch {
		case b.has("srgb") == b.has("lab"):
			r.refuse(n, "%s, field %d: write its known colour, either srgb: [r, g, b] (0 to 255) or lab: [L, a, b] (CIELAB under D50, as card makers print it).", m.label("card"), i+1)
		case b.has("srgb"):
			if v, ok := r.numbers(b.val("srgb"), b.label("srgb"), "three numbers, [r, g, b]", 3, 3); ok {
				for k, x := range v {
					if x < 0 || x > 255 {
						r.refuse(b.val("srgb"), "%s holds %g; codes run from 0 to 255.", b.label("srgb"), x)
					}
					f.SRGB[k] = x
				}
			}
		default:
			if v, ok := r.numbers(b.val("lab"), b.label("lab"), "three numbers, [L, a, b]", 3, 3); ok {
				if v[0] <= 0 || v[0] > 100 || math.Abs(v[1]) > 128 || math.Abs(v[2]) > 128 {
					r.refuse(b.val("lab"), "%s is [%g, %g, %g]; L lies between 0 and 100, a and b between -128 and 128.", b.label("lab"), v[0], v[1], v[2])
				}
				f.SRGB = residue.FromD50(v[0], v[1], v[2])
			}
		}
		out = append(out, f)
	}
	return out
}

// outsideOf is which corner, from 1, lies more than geom.WallTolerance outside the
// room; 0 for none.
func outsideOf(pts, room []geom.Point2) int {
	if room == nil {
		return 0
	}
	plan := geom.Plan{Room: geom.Ring(room)}
	for i, p := range pts {
		if !plan.Inside(p) && wallDistance(room, p) > geom.WallTolerance {
			return i + 1
		}
	}
	return 0
}

// wallDistance is how far p lies from the ring's edges, m.
func wallDistance(ring []geom.Point2, p geom.Point2) float64 {
	best := math.Inf(1)
	for i, a := range ring {
		d := ring[(i+1)%len(ring)].Sub(a)
		t := 0.0
		if q := d.X*d.X + d.Y*d.Y; q > 0 {
			t = min(max(((p.X-a.X)*d.X+(p.Y-a.Y)*d.Y)/q, 0), 1)
		}
		best = min(best, p.Dist(a.Add(d.Scale(t))))
	}
	return best
}
