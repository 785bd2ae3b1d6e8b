package residue

import "math"

// Repeated widens the intervals of found by how far the same figures of parts of
// the frames scatter: noise, a coding's changes from frame to frame, a lamp's
// flicker. The mean of n parts scatters by 1 / sqrt(n) of what one does, and the
// median over all frames by no more than a quarter above that.
func Repeated(found map[string]*Figures, parts []map[string]*Figures) {
	for name, f := range found {
		for key, iv := range f.Interval95 {
			var v []float64
			for _, p := range parts {
				if q := p[name]; q != nil {
					if x := q.value(key); x != nil {
						v = append(v, *x)
					}
				}
			}
			at := f.value(key)
			if len(v) < 2 || at == nil {
				continue
			}
			mean, square := 0.0, 0.0
			for _, x := range v {
				mean += x / float64(len(v))
			}
			for _, x := range v {
				square += sq(x-mean) / float64(len(v)-1)
			}
			more := 1.96 * 1.25 * math.Sqrt(square/float64(len(v)))
			f.Interval95[key] = [2]float64{math.Max(0, *at-math.Hypot(*at-iv[0], more)), *at + math.Hypot(iv[1]-*at, more)}
		}
	}
}

// value is the figure that an interval is of.
func (f *Figures) value(key string) *float64 {
	count := func(n *int) *float64 {
		if n == nil {
			return nil
		}
		v := float64(*n)
		return &v
	}
	switch key {
	case "before_m2":
		return f.BeforeM2
	case "after_m2":
		return f.AfterM2
	case "left_share":
		return f.LeftShare
	case "before_length_m":
		return f.BeforeLengthM
	case "after_length_m":
		return f.AfterLengthM
	case "difference_mean":
		return f.DifferenceMean
	case "new_length_m":
		return f.NewLengthM
	case "before_count":
		return count(f.BeforeCount)
	case "after_count":
		return count(f.AfterCount)
	}
	return nil
}
