package scene

import "math"

// grain is a table of standard normal numbers in the fixed point of pictures;
// each row of each frame reads it from a place of its own.
type grain struct{ v []int16 }

const grainSize = 1 << 19

func newGrain(seed uint64) *grain {
	g := &grain{make([]int16, grainSize+3*8192)}
	r := NewRand(seed, 0x9a1e)
	for i := range grainSize {
		g.v[i] = int16(math.Round(clamp(r.gauss()*unit, -32000, 32000)))
	}
	copy(g.v[grainSize:], g.v[:3*8192])
	return g
}

// developer turns a painter's picture into the bytes of a frame.
type developer struct {
	s     *Scene
	w, h  int
	noise *grain
	sigma [1024]int32 // noise for a grey level, in 1/256; levels above 255 are burnt out
	lamps [][]int32   // per lamp and pixel: added gain in 1/4096
}

func newDeveloper(w *world, noise *grain) *developer {
	d := &developer{s: w.s, w: w.w, h: w.h, noise: noise}
	for i := range d.sigma {
		q := w.s.Sensor
		d.sigma[i] = int32(256 * math.Sqrt(q.Noise*q.Noise+q.Shot*q.Shot*min(float64(i)/255, 1)))
	}
	for _, l := range w.s.Light.Lamps {
		m := make([]int32, w.w*w.h)
		for j := range w.h {
			for i := range w.w {
				k := j*(w.w+1) + i
				x, y := float64(w.fx[k])-l.At.X, float64(w.fy[k])-l.At.Y
				if e := (x*x + y*y) / (2 * l.Size * l.Size); !(e > 30) && !math.IsNaN(e) {
					m[j*w.w+i] = int32(4096 * l.Gain * math.Exp(-e))
				}
			}
		}
		d.lamps = append(d.lamps, m)
	}
	return d
}

// gain is the light at time t of frame n, 1 on average, 3.9 at most.
func (s *Scene) gain(t float64, n int) float64 {
	l := &s.Light
	g := 1.0
	if l.DriftPeriod > 0 {
		g += l.DriftShare * math.Sin(2*math.Pi*t/l.DriftPeriod)
	}
	for _, f := range l.Flashes {
		if f.Span.Contains(t) {
			g *= f.Gain
		}
	}
	if l.Flicker > 0 {
		g *= 1 + l.Flicker*NewRand(s.Seed, 0xf11c+uint64(n)).gauss()
	}
	return clamp(g, 0, 3.9)
}

// balance applies the camera's white balance at time t to a frame's bytes.
func (d *developer) balance(dst []byte, t float64) {
	for _, b := range d.s.Light.Balances {
		if !b.Span.Contains(t) {
			continue
		}
		var table [3][256]byte
		for c := range table {
			for v := range table[c] {
				table[c][v] = byte(min(255, float32(v)*b.Gain[c]+0.5))
			}
		}
		for i, v := range dst {
			dst[i] = table[i%3][v]
		}
	}
}

// develop writes the frame taken at time t, number n, from the picture src.
func (d *developer) develop(src []uint16, t float64, n int, dst []byte) {
	defer d.balance(dst, t)
	gain := int32(math.Round(4096 * d.s.gain(t, n)))
	var on [][]int32
	for i, l := range d.s.Light.Lamps {
		if l.On.Contains(t) {
			on = append(on, d.lamps[i])
		}
	}
	noisy := d.s.Sensor.Noise > 0 || d.s.Sensor.Shot > 0
	r := NewRand(d.s.Seed, 0x5eed0000+uint64(n))
	row := 3 * d.w
	sigma := &d.sigma
	gains := make([]int32, 0, d.w)
	for j := range d.h {
		in, out := src[j*row:(j+1)*row], dst[j*row:(j+1)*row]
		start := int(r.Next() % grainSize)
		if row > 3*8192 {
			start = 0
		}
		if len(on) > 0 {
			gains = gains[:d.w]
			for i := range gains {
				gains[i] = gain
				for _, m := range on {
					gains[i] += m[j*d.w+i]
				}
				gains[i] = max(0, min(gains[i], 16000))
			}
		}
		switch {
		case len(on) > 0:
			g := d.noise.v[start : start+row]
			for i := range in {
				v := int32(int64(in[i]) * int64(gains[i/3]) >> 12)
				if noisy {
					v += int32(g[i]) * sigma[v>>7&1023] >> 8
				}
				out[i] = level(v)
			}
		case noisy:
			g := d.noise.v[start : start+row]
			out, g = out[:len(in)], g[:len(in)]
			for i, s := range in {
				v := int32(s) * gain >> 12
				v += int32(g[i]) * sigma[v>>7&1023] >> 8
				out[i] = level(v)
			}
		default:
			for i, s := range in {
				out[i] = level(int32(s) * gain >> 12)
			}
		}
	}
}

// level rounds a fixed-point value to a byte.
func level(v int32) byte {
	v = (v + unit/2) >> 7
	if uint32(v) > 255 {
		if v < 0 {
			return 0
		}
		return 255
	}
	return byte(v)
}

// warp shifts and turns the picture src as a stabiliser does at time t.
func (s *Scene) warp(src, dst []uint16, w, h int, t float64) {
	a := 2 * math.Pi * t / s.Wobble.Period
	// Two slow waves that do not repeat together.
	dx := s.Wobble.Shift * (0.7*math.Sin(a) + 0.3*math.Sin(2.618*a+1))
	dy := s.Wobble.Shift * (0.7*math.Cos(0.83*a) + 0.3*math.Sin(1.93*a+2))
	sn, cs := math.Sincos(s.Wobble.Turn * math.Sin(0.71*a+0.5))
	mx, my := float64(w-1)/2, float64(h-1)/2
	for j := range h {
		for i := range w {
			x, y := float64(i)-mx-dx, float64(j)-my-dy
			u := clamp(cs*x+sn*y+mx, 0, float64(w)-1.001)
			v := clamp(cs*y-sn*x+my, 0, float64(h)-1.001)
			i0, j0 := int(u), int(v)
			fu, fv := int32((u-float64(i0))*256), int32((v-float64(j0))*256)
			k := 3 * (j0*w + i0)
			o := 3 * (j*w + i)
			for c := range 3 {
				p, q := int32(src[k+c]), int32(src[k+3+c])
				r, z := int32(src[k+3*w+c]), int32(src[k+3*w+3+c])
				top, low := p<<8+(q-p)*fu, r<<8+(z-r)*fu
				dst[o+c] = uint16((int64(top)<<8 + int64(low-top)*int64(fv)) >> 16)
			}
		}
	}
}
