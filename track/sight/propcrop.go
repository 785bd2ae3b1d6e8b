package sight

import (
	"bytes"
	"image"
	"image/png"
	"math"

	"swathe/geom"
)

// cropAround is how much of the floor round a test object its pictures show, m.
const cropAround = 0.25

// cropScale is how much larger than in the recording they show it.
const cropScale = 2

// objectCrop is a part of a frame, kept until it is asked for as a picture.
type objectCrop struct {
	y, u, v Plane
	box     [4]int // px of the frame: left, top, and the first beyond
}

// crop cuts out of a picture where a test object was first and where it is now, with
// what is around: in one frame.
func (e *objectEye) crop(p *Picture, q *object) objectCrop {
	var b [4]int
	for i, at := range []geom.Pose{q.log[0].at, q.at} {
		c, ok := e.set.Cam.Project(geom.Point3{X: at.X, Y: at.Y, Z: q.floor + q.height})
		if !ok {
			return objectCrop{}
		}
		h := int(math.Ceil((q.radius + cropAround) / q.mpp))
		one := [4]int{max(0, int(c.X)-h) &^ 1, max(0, int(c.Y)-h) &^ 1, min(p.Y.W, int(c.X)+h) &^ 1, min(p.Y.H, int(c.Y)+h) &^ 1}
		if i == 0 {
			b = one
		}
		b = [4]int{min(b[0], one[0]), min(b[1], one[1]), max(b[2], one[2]), max(b[3], one[3])}
	}
	return cropOf(p, b)
}

func cropOf(p *Picture, b [4]int) objectCrop {
	if p == nil || b[2]-b[0] < 2 || b[3]-b[1] < 2 {
		return objectCrop{}
	}
	return objectCrop{cut(&p.Y, b[0], b[1], b[2], b[3]), cut(&p.U, b[0]/2, b[1]/2, b[2]/2, b[3]/2), cut(&p.V, b[0]/2, b[1]/2, b[2]/2, b[3]/2), b}
}

func cut(p *Plane, x0, y0, x1, y1 int) Plane {
	x1, y1 = min(x1, p.W), min(y1, p.H)
	q := NewPlane(x1-x0, y1-y0)
	for y := y0; y < y1; y++ {
		copy(q.Pix[(y-y0)*q.W:(y-y0+1)*q.W], p.Pix[y*p.Stride+x0:y*p.Stride+x1])
	}
	return q
}

// png encodes a crop, enlarged; nil if there is none.
func (c objectCrop) png() []byte {
	if c.y.W == 0 {
		return nil
	}
	w, h := c.y.W*cropScale, c.y.H*cropScale
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for j := 0; j < h; j++ {
		for i := 0; i < w; i++ {
			x := math.Max(0, math.Min(float64(c.y.W)-1.01, (float64(i)+0.5)/cropScale-0.5))
			y := math.Max(0, math.Min(float64(c.y.H)-1.01, (float64(j)+0.5)/cropScale-0.5))
			l, _ := c.y.At(x, y)
			ux := math.Max(0, math.Min(float64(c.u.W)-1.01, (x-0.5)/2))
			uy := math.Max(0, math.Min(float64(c.u.H)-1.01, (y-0.5)/2))
			u, _ := c.u.At(ux, uy)
			v, _ := c.v.At(ux, uy)
			u, v = u-128, v-128
			// ITU-R BT.601 in full range, as FromBGR.
			o := img.PixOffset(i, j)
			img.Pix[o] = clamp8(int32(l + 1.402*v + 0.5))
			img.Pix[o+1] = clamp8(int32(l - 0.344136*u - 0.714136*v + 0.5))
			img.Pix[o+2] = clamp8(int32(l + 1.772*u + 0.5))
			img.Pix[o+3] = 255
		}
	}
	var b bytes.Buffer
	if png.Encode(&b, img) != nil {
		return nil
	}
	return b.Bytes()
}
