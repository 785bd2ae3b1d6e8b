package sight

// FromBGR makes a picture of packed BGR bytes, w x h, even both, as a camera's
// encoder would: ITU-R BT.601 in full range, chroma averaged over 2 x 2. It
// reuses the memory of dst if that fits.
func FromBGR(bgr []byte, w, h int, t float64, dst *Picture) *Picture {
	if dst == nil || dst.Y.W != w || dst.Y.H != h {
		dst = &Picture{Y: NewPlane(w, h), U: NewPlane(w/2, h/2), V: NewPlane(w/2, h/2)}
	}
	dst.T = t
	for y := 0; y < h; y++ {
		row := bgr[3*w*y : 3*w*(y+1)]
		o := dst.Y.Pix[y*w : (y+1)*w]
		for x := range o {
			b, g, r := int32(row[3*x]), int32(row[3*x+1]), int32(row[3*x+2])
			o[x] = uint8((19595*r + 38470*g + 7471*b + 32768) >> 16)
		}
	}
	for y := 0; y < h/2; y++ {
		p, q := bgr[6*w*y:6*w*y+3*w], bgr[6*w*y+3*w:6*w*y+6*w]
		u, v := dst.U.Pix[y*(w/2):(y+1)*(w/2)], dst.V.Pix[y*(w/2):(y+1)*(w/2)]
		for x := range u {
			i := 6 * x
			b := int32(p[i]) + int32(p[i+3]) + int32(q[i]) + int32(q[i+3])
			g := int32(p[i+1]) + int32(p[i+4]) + int32(q[i+1]) + int32(q[i+4])
			r := int32(p[i+2]) + int32(p[i+5]) + int32(q[i+2]) + int32(q[i+5])
			u[x] = clamp8(128 + (32768*b-21709*g-11059*r+131072)>>18)
			v[x] = clamp8(128 + (32768*r-27439*g-5329*b+131072)>>18)
		}
	}
	return dst
}

func clamp8(v int32) uint8 { return uint8(max(0, min(255, v))) }
