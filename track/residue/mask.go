package residue

import "math"

// components labels the pieces of a mask from 1, eight neighbours joined.
func components(mask []bool, w, h int) (label []int32, count int) {
	label = make([]int32, w*h)
	var stack []int32
	for i := range mask {
		if !mask[i] || label[i] != 0 {
			continue
		}
		count++
		label[i] = int32(count)
		stack = append(stack[:0], int32(i))
		for len(stack) > 0 {
			j := int(stack[len(stack)-1])
			stack = stack[:len(stack)-1]
			neighbours(j, w, h, func(k int) {
				if mask[k] && label[k] == 0 {
					label[k] = int32(count)
					stack = append(stack, int32(k))
				}
			})
		}
	}
	return label, count
}

// neighbours calls f with the eight pixels about i that exist.
func neighbours(i, w, h int, f func(j int)) {
	x, y := i%w, i/w
	for dy := -1; dy <= 1; dy++ {
		for dx := -1; dx <= 1; dx++ {
			if (dx != 0 || dy != 0) && x+dx >= 0 && x+dx < w && y+dy >= 0 && y+dy < h {
				f(i + dy*w + dx)
			}
		}
	}
}

// pieces lists the pixels of each piece of a mask.
func pieces(mask []bool, w, h int) [][]int32 {
	label, count := components(mask, w, h)
	out := make([][]int32, count)
	for i, l := range label {
		if l > 0 {
			out[l-1] = append(out[l-1], int32(i))
		}
	}
	return out
}

// dropPieces clears the pieces that are not to be kept.
func dropPieces(mask []bool, w, h int, keep func(piece []int32) bool) {
	for _, p := range pieces(mask, w, h) {
		if !keep(p) {
			for _, i := range p {
				mask[i] = false
			}
		}
	}
}

// dilate is the mask grown by a disc of r pixels.
func dilate(mask []bool, w, h, r int) []bool {
	out := make([]bool, len(mask))
	for i, m := range mask {
		if !m {
			continue
		}
		x, y := i%w, i/w
		if x > 0 && x < w-1 && y > 0 && y < h-1 && mask[i-1] && mask[i+1] && mask[i-w] && mask[i+w] {
			out[i] = true // its neighbours do the growing
			continue
		}
		for dy := -r; dy <= r; dy++ {
			for dx := -r; dx <= r; dx++ {
				if dx*dx+dy*dy <= r*r && x+dx >= 0 && x+dx < w && y+dy >= 0 && y+dy < h {
					out[i+dy*w+dx] = true
				}
			}
		}
	}
	return out
}

// erode is the mask less a margin of r pixels; what lies outside the picture
// counts as mask.
func erode(mask []bool, w, h, r int) []bool {
	out := make([]bool, len(mask))
	for i, m := range mask {
		out[i] = !m
	}
	out = dilate(out, w, h, r)
	for i, m := range out {
		out[i] = !m
	}
	return out
}

// highest is the highest value within r pixels (a square, cut at its corners) of
// each pixel.
func highest(v []float32, w, h, r int) []float32 {
	out := runHighest(runHighest(v, w, h, r, 1), w, h, r, w)
	return out
}

// runHighest is the highest within r steps along rows (step 1) or columns (step w).
func runHighest(v []float32, w, h, r, step int) []float32 {
	out := make([]float32, len(v))
	n, lines, next := w, h, w
	if step != 1 {
		n, lines, next = h, w, 1
	}
	queue := make([]int, 0, n)
	for l := range lines {
		base := l * next
		queue = queue[:0]
		head := 0
		for i := 0; i < n+r; i++ {
			if i < n {
				for len(queue) > head && v[base+queue[len(queue)-1]*step] <= v[base+i*step] {
					queue = queue[:len(queue)-1]
				}
				queue = append(queue, i)
			}
			if j := i - r; j >= 0 {
				for queue[head] < j-r {
					head++
				}
				out[base+j*step] = v[base+queue[head]*step]
			}
		}
	}
	return out
}

// depths is how far each pixel of the mask lies from the nearest one outside
// it, px: the exact Euclidean distance (Felzenszwalb and Huttenlocher, "Distance
// Transforms of Sampled Functions", Theory of Computing 8, 2012).
func depths(mask []bool, w, h int) []float32 {
	const far = 1e12
	f := make([]float64, w*h)
	for i, m := range mask {
		if m {
			f[i] = far
		}
	}
	n := max(w, h)
	in, out := make([]float64, n), make([]float64, n)
	v, z := make([]int, n), make([]float64, n+1)
	pass := func(m, lines, step, next int) {
		for l := range lines {
			for i := range m {
				in[i] = f[l*next+i*step]
			}
			parabolas(in[:m], out[:m], v, z)
			for i := range m {
				f[l*next+i*step] = out[i]
			}
		}
	}
	pass(h, w, w, 1)
	pass(w, h, 1, w)
	d := make([]float32, w*h)
	for i := range d {
		d[i] = float32(math.Sqrt(f[i]))
	}
	return d
}

// parabolas is the lower envelope of the parabolas that stand on in.
func parabolas(in, out []float64, v []int, z []float64) {
	k := 0
	v[0], z[0], z[1] = 0, math.Inf(-1), math.Inf(1)
	for q := 1; q < len(in); q++ {
		for {
			p := v[k]
			s := (in[q] + float64(q*q) - in[p] - float64(p*p)) / float64(2*(q-p))
			if s > z[k] || k == 0 && math.IsInf(z[0], -1) && s > z[0] {
				k++
				v[k], z[k], z[k+1] = q, s, math.Inf(1)
				break
			}
			k--
		}
	}
	k = 0
	for q := range in {
		for z[k+1] < float64(q) {
			k++
		}
		out[q] = sq(float64(q-v[k])) + in[v[k]]
	}
}

// spreadLabels grows labels over the pixels of within, nearest first, in steps
// of eight neighbours.
func spreadLabels(label []int32, within []bool, w, h int) []int32 {
	out := append([]int32(nil), label...)
	var queue []int
	for i, l := range out {
		if l > 0 {
			queue = append(queue, i)
		}
	}
	for len(queue) > 0 {
		i := queue[0]
		queue = queue[1:]
		neighbours(i, w, h, func(j int) {
			if within[j] && out[j] == 0 {
				out[j] = out[i]
				queue = append(queue, j)
			}
		})
	}
	return out
}
