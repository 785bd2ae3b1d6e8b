package sight

import "swathe/geom"

// longestProfile is the most samples of a profile.
const longestProfile = 256

// litPair is a picture and the background before it, nil if there is none, whose
// light the picture has g times.
type litPair struct {
	i, b *Plane
	g    float32
}

// along samples a picture along a normal, and its difference from the
// background, at len(vi) places half a pixel apart, the first so many places
// inside of p. False where the normal leaves either.
func (f *Fitter) along(l litPair, p, normal geom.Point2, inside int, vi, vd []float32) bool {
	i, b, g := l.i, l.b, l.g
	if b == nil || f.Warp != nil || b.W != i.W || b.H != i.H {
		for j := range vi {
			s := float64(j-inside) * raySpacing
			q := geom.Point2{X: p.X + s*normal.X, Y: p.Y + s*normal.Y}
			var bv float32
			if b != nil {
				var ok bool
				if bv, ok = b.At(q.X, q.Y); !ok {
					return false
				}
			}
			q = f.warp(q)
			iv, ok := i.At(q.X, q.Y)
			if !ok {
				return false
			}
			vi[j], vd[j] = iv, iv-g*bv
		}
		return true
	}
	// Both pictures at the same places, of which the first and the last are
	// outermost: At twice at a go.
	mx, my := float64(i.W-1), float64(i.H-1)
	for _, j := range [2]int{0, len(vi) - 1} {
		s := float64(j-inside) * raySpacing
		x, y := p.X+s*normal.X, p.Y+s*normal.Y
		if !(x >= 0 && y >= 0 && x < mx && y < my) {
			return false
		}
	}
	vd = vd[:len(vi)]
	for j := range vi {
		s := float64(j-inside) * raySpacing
		x, y := p.X+s*normal.X, p.Y+s*normal.Y
		ix, iy := int(x), int(y)
		fx, fy := float32(x-float64(ix)), float32(y-float64(iy))
		iv := between(i.Pix[iy*i.Stride+ix:], i.Stride, fx, fy)
		vi[j], vd[j] = iv, iv-g*between(b.Pix[iy*b.Stride+ix:], b.Stride, fx, fy)
	}
	return true
}

// between samples a plane (fx, fy) behind the first of pix, as Plane.At does.
func between(pix []uint8, stride int, fx, fy float32) float32 {
	r := pix[stride : stride+2]
	a, b, c, d := float32(pix[0]), float32(pix[1]), float32(r[0]), float32(r[1])
	top := a + (b-a)*fx
	return top + (c+(d-c)*fx-top)*fy
}
