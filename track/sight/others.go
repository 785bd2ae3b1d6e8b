package sight

import (
	"math"

	"swathe/geom"
)

// Others returns what is neither floor nor robot in a picture, 0..255 in a
// small plane whose pixels are squares of factor x factor pixels of the
// picture. at is where the robot stands; known false: nobody knows, and it is
// among the others. The plane is valid until the next call.
func (w *Watcher) Others(p *Picture, at geom.Pose, known bool) (mask Plane, factor int) {
	w.whole(p)
	mask = w.finder.fg
	if !known {
		return mask, w.bg.Factor
	}
	z := w.floor(at)
	mid := geom.Point3{X: at.X, Y: at.Y, Z: z + w.set.Robot.Height/2}
	c, ok := w.set.Cam.Project(mid)
	if !ok {
		return mask, w.bg.Factor
	}
	c = w.fitter.warp(c)
	f := float64(w.bg.Factor)
	// Its shadow goes with it.
	r := w.set.Robot.Reach() / w.set.Cam.PixelSize(mid) * 1.5 / f
	cx, cy := (c.X+0.5)/f-0.5, (c.Y+0.5)/f-0.5
	for y := max(0, int(cy-r)); y <= min(mask.H-1, int(math.Ceil(cy+r))); y++ {
		for x := max(0, int(cx-r)); x <= min(mask.W-1, int(math.Ceil(cx+r))); x++ {
			if math.Hypot(float64(x)-cx, float64(y)-cy) <= r {
				mask.Pix[y*mask.Stride+x] = 0
			}
		}
	}
	return mask, w.bg.Factor
}
