package sight

import (
	"math"
	"runtime"
	"sync"

	"swathe/geom"
)

// Background is the room without the robot.
type Background struct {
	Y, U, V Plane // as large as the pictures
	Small   Plane // Y at 1/Factor
	SmallU  Plane // U at the size of Small
	SmallV  Plane
	Factor  int
	Noise   float64     // grey levels, standard deviation of one pixel between frames
	Healed  []geom.Pose // places where the robot stood so long that it had become floor
	Moved   float64     // px, how far the camera moved between the samples; infinite if they do not fit together
	Width   Width       // of the robot, as the samples show it
	region  *Region     // tells floor from robot by colour
	flat    bool        // the picture was shifted rather than the camera turned
}

// shrinkFactor is how much smaller the picture for the whole-room look is: the
// robot stays 5.5 px or more in radius, which is enough to tell where to fit.
func shrinkFactor(width int, robotPx float64) int {
	f := 1
	for width/(f*2) >= 160 && robotPx/float64(2*f) >= 5.5 {
		f *= 2
	}
	return f
}

// light divides the light of one picture by that of another, tile by tile.
type light struct {
	nx, ny int
	g      []float64
}

const tile = 12 // px of the small picture

// relight measures the light of s over b, both small pictures of one size, as
// the median ratio in each tile, empty tiles filled from their neighbours.
func relight(s, b *Plane) light {
	l := light{nx: (s.W + tile - 1) / tile, ny: (s.H + tile - 1) / tile}
	l.g = make([]float64, l.nx*l.ny)
	var buf [tile * tile]float64
	var all []float64
	for ty := 0; ty < l.ny; ty++ {
		for tx := 0; tx < l.nx; tx++ {
			v := buf[:0]
			for y := ty * tile; y < min(s.H, (ty+1)*tile); y += 2 {
				for x := tx * tile; x < min(s.W, (tx+1)*tile); x++ {
					q := b.Pix[y*b.Stride+x]
					if q > 12 && q < 250 {
						v = append(v, float64(s.Pix[y*s.Stride+x])/float64(q))
					}
				}
			}
			m := math.NaN()
			if len(v) >= 20 {
				m = median(v)
				all = append(all, m)
			}
			l.g[ty*l.nx+tx] = m
		}
	}
	whole := 1.0
	if len(all) > 0 {
		whole = median(all)
	}
	// A tile that is all robot or person tells nothing of the light: keep to
	// the middle of its neighbourhood.
	out := make([]float64, len(l.g))
	var near []float64
	for ty := 0; ty < l.ny; ty++ {
		for tx := 0; tx < l.nx; tx++ {
			near = near[:0]
			for y := max(0, ty-2); y <= min(l.ny-1, ty+2); y++ {
				for x := max(0, tx-2); x <= min(l.nx-1, tx+2); x++ {
					if g := l.g[y*l.nx+x]; !math.IsNaN(g) {
						near = append(near, g)
					}
				}
			}
			if len(near) < 3 {
				out[ty*l.nx+tx] = whole
			} else {
				out[ty*l.nx+tx] = median(near)
			}
		}
	}
	l.g = out
	return l
}

// at returns the light at pixel (x, y) of the small picture, between tiles.
func (l *light) at(x, y float64) float64 {
	fx, fy := (x+0.5)/tile-0.5, (y+0.5)/tile-0.5
	fx = math.Max(0, math.Min(float64(l.nx-1), fx))
	fy = math.Max(0, math.Min(float64(l.ny-1), fy))
	ix, iy := min(int(fx), l.nx-2), min(int(fy), l.ny-2)
	ix, iy = max(ix, 0), max(iy, 0)
	jx, jy := min(ix+1, l.nx-1), min(iy+1, l.ny-1)
	u, v := fx-float64(ix), fy-float64(iy)
	a := l.g[iy*l.nx+ix]*(1-u) + l.g[iy*l.nx+jx]*u
	b := l.g[jy*l.nx+ix]*(1-u) + l.g[jy*l.nx+jx]*u
	return a*(1-v) + b*v
}

// lines returns, for one line of the small picture, the light of every pixel.
func (l *light) line(y, w int, dst []float32) []float32 {
	if cap(dst) < w {
		dst = make([]float32, w)
	}
	dst = dst[:w]
	// Linear between every eighth pixel: the field is that smooth.
	prev := float32(l.at(0, float64(y)))
	for x := 0; x < w; x += 8 {
		e := min(x+8, w)
		next := float32(l.at(float64(e), float64(y)))
		d := (next - prev) / float32(e-x)
		for i := x; i < e; i++ {
			dst[i] = prev + d*float32(i-x)
		}
		prev = next
	}
	return dst
}

// stack makes the background of samples: at every pixel the median over the
// samples, each in the light and the colours of one of them. It changes samples
// whose colours are other ones.
func stack(samples []*Picture, factor int) *Background {
	smalls := make([]smallPicture, len(samples))
	for i, s := range samples {
		smalls[i] = shrunk(s, factor)
	}
	ref := usualColours(smalls)
	for i, s := range samples {
		if c, changed := colourChange(smalls[i].room(), smalls[ref].room()); changed {
			whole := room{&s.Y, &s.U, &s.V}
			c.paint(whole, whole)
			smalls[i] = shrunk(s, factor)
		}
	}
	// Somebody in the one picture would be taken for a shadow in all the others:
	// light is told against what most of them show.
	mid := middleRoom(smalls, &smalls[ref].y)
	lights := make([]light, len(samples))
	for i := range samples {
		lights[i] = relight(&smalls[i].y, &mid)
	}
	b := &Background{Factor: factor}
	b.Y = mergePlanes(samples, lights, factor, func(p *Picture) *Plane { return &p.Y }, 1, true)
	b.U = mergePlanes(samples, lights, factor, func(p *Picture) *Plane { return &p.U }, 2, false)
	b.V = mergePlanes(samples, lights, factor, func(p *Picture) *Plane { return &p.V }, 2, false)
	b.finish()
	b.Noise = stackNoise(samples, lights, b, factor)
	return b
}

// smallPicture is a picture at 1/factor, its chroma as large as its luminance.
type smallPicture struct{ y, u, v Plane }

func (s *smallPicture) room() room { return room{&s.y, &s.u, &s.v} }

func shrunk(p *Picture, factor int) (s smallPicture) {
	s.y = p.Y.Shrink(factor, Plane{})
	s.u = chromaSmall(&p.U, factor, s.y, Plane{})
	s.v = chromaSmall(&p.V, factor, s.y, Plane{})
	return s
}

// usualColours is the number of the picture whose middle colour is nearest to
// those of all the others.
func usualColours(all []smallPicture) (best int) {
	mid := make([][3]float64, len(all))
	for i := range all {
		for c, p := range [3]*Plane{&all[i].y, &all[i].u, &all[i].v} {
			v := make([]float64, len(p.Pix))
			for k, q := range p.Pix {
				v[k] = float64(q)
			}
			mid[i][c] = median(v)
		}
	}
	least := math.Inf(1)
	for n := range mid { // the middle one in time, of equals
		i := (len(mid)/2 + n) % len(mid)
		sum := 0.0
		for j := range mid {
			sum += math.Abs(mid[i][0]-mid[j][0])/4 + math.Abs(mid[i][1]-mid[j][1]) + math.Abs(mid[i][2]-mid[j][2])
		}
		if sum < least {
			least, best = sum, i
		}
	}
	return best
}

// middleRoom is the median over small pictures, each as bright as one of them.
func middleRoom(all []smallPicture, like *Plane) Plane {
	out := NewPlane(like.W, like.H)
	gain := make([]float64, len(all))
	for i := range all {
		var v []float64
		for k, q := range like.Pix {
			if q > 12 && q < 250 {
				v = append(v, float64(all[i].y.Pix[k])/float64(q))
			}
		}
		if gain[i] = median(v); !(gain[i] > 0.05) {
			gain[i] = 1
		}
	}
	v := make([]float64, len(all))
	for k := range out.Pix {
		for i := range all {
			v[i] = float64(all[i].y.Pix[k]) / gain[i]
		}
		out.Pix[k] = grey(median(v))
	}
	return out
}

func (b *Background) finish() {
	b.Small = b.Y.Shrink(b.Factor, Plane{})
	b.SmallU = chromaSmall(&b.U, b.Factor, b.Small, Plane{})
	b.SmallV = chromaSmall(&b.V, b.Factor, b.Small, Plane{})
}

// room is the background at the size of the whole-room look.
func (b *Background) room() room { return room{&b.Small, &b.SmallU, &b.SmallV} }

// chromaSmall brings a half-size chroma plane to the size of the small picture.
func chromaSmall(p *Plane, factor int, like, dst Plane) Plane {
	if factor >= 2 {
		q := p.Shrink(factor/2, dst)
		if q.W == like.W && q.H == like.H {
			return q
		}
		return crop(q, like.W, like.H)
	}
	if dst.W != like.W || dst.H != like.H {
		dst = NewPlane(like.W, like.H)
	}
	for y := 0; y < like.H; y++ {
		for x := 0; x < like.W; x++ {
			dst.Pix[y*dst.Stride+x] = p.Pix[min(y/2, p.H-1)*p.Stride+min(x/2, p.W-1)]
		}
	}
	return dst
}

func crop(p Plane, w, h int) Plane {
	q := NewPlane(w, h)
	for y := 0; y < h; y++ {
		for x := 0; x < w; x++ {
			q.Pix[y*w+x] = p.Pix[min(y, p.H-1)*p.Stride+min(x, p.W-1)]
		}
	}
	return q
}

func mergePlanes(samples []*Picture, lights []light, factor int, get func(*Picture) *Plane, scale int, gain bool) Plane {
	p0 := get(samples[0])
	out := NewPlane(p0.W, p0.H)
	n := len(samples)
	lo, hi := third(n)
	sort := newSorter(n, lo, hi)
	var wg sync.WaitGroup
	workers := runtime.GOMAXPROCS(0)
	for wk := 0; wk < workers; wk++ {
		wg.Add(1)
		go func() {
			defer wg.Done()
			gains, rows := make([]float32, p0.W), make([][]uint16, n)
			for k := range rows {
				rows[k] = make([]uint16, p0.W)
			}
			var small []float32
			for y := wk; y < p0.H; y += workers {
				for k, s := range samples {
					p := get(s)
					line, row := p.Pix[y*p.Stride:][:p0.W], rows[k]
					if !gain {
						for x, q := range line {
							row[x] = uint16(q) << 4
						}
						continue
					}
					// 1/gain of the sample along this line.
					small = lights[k].line(y*scale/factor, (p0.W*scale)/factor+1, small)
					for x := range gains {
						gains[x] = 1 / max(small[x*scale/factor], 0.05)
					}
					for x, q := range line {
						row[x] = uint16(min(int32(float32(int32(q)<<4)*gains[x]), largest))
					}
				}
				sort.middles(rows, out.Pix[y*out.Stride:y*out.Stride+out.W])
			}
		}()
	}
	wg.Wait()
	return out
}

// middle is the mean of the middle third of sorted values in sixteenths, as a
// pixel: nearly as deaf to outliers as the median and less noisy.
func middle(v []int32) uint8 {
	if len(v) == 0 {
		return 0
	}
	a, b := third(len(v))
	var s int32
	for _, x := range v[a:b] {
		s += x
	}
	return thirdMean(s, b-a)
}

// thirdMean is the mean of n values in sixteenths, by their sum, as a pixel.
func thirdMean(sum int32, n int) uint8 {
	return uint8(max(0, min(255, (sum/int32(n)+8)>>4)))
}

// stackNoise is the scatter of one pixel between frames, grey levels: the
// median over a grid of pixels of the median deviation over the samples.
func stackNoise(samples []*Picture, lights []light, b *Background, factor int) float64 {
	var all, dev []float64
	for y := 4; y < b.Y.H-4; y += 1 + b.Y.H/48 {
		for x := 4; x < b.Y.W-4; x += 1 + b.Y.W/64 {
			dev = dev[:0]
			for k, s := range samples {
				g := lights[k].at(float64(x/factor), float64(y/factor))
				dev = append(dev, math.Abs(float64(s.Y.Pix[y*s.Y.Stride+x])-g*float64(b.Y.Pix[y*b.Y.Stride+x])))
			}
			all = append(all, median(dev))
		}
	}
	if len(all) == 0 {
		return 1
	}
	// 0.6745: the median deviation of a normal distribution, in sigmas.
	return math.Max(0.5, median(all)/0.6745)
}
