package geom

import (
	"math"
	"slices"
)

// Median returns the middle value of v, of an even number the mean of the middle
// two, which may be infinite; NaN of none. v stays as it is.
func Median(v []float64) float64 {
	n := len(v)
	if n == 0 {
		return math.NaN()
	}
	w := slices.Clone(v)
	m := Select(w, n/2)
	if n%2 == 1 {
		return m
	}
	below := slices.Max(w[:n/2])
	if below == m { // of two infinities too
		return m
	}
	return (below + m) / 2
}

// Quantile returns the q-th quantile (0 to 1) of v, interpolated between the k-th
// at (k-1)/(n-1); NaN of none. v stays as it is. Intervals that are published
// take stats.Quantile's steps instead.
func Quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	w := slices.Sorted(slices.Values(v))
	p := q * float64(len(w)-1)
	i := int(p)
	if i+1 >= len(w) {
		return w[len(w)-1]
	}
	return w[i] + (p-float64(i))*(w[i+1]-w[i])
}

// Select returns the k-th smallest value of v, the first at 0, and reorders v: what
// comes before it then is no greater, what comes behind it no less (Hoare, CACM 4, 1961).
func Select(v []float64, k int) float64 {
	lo, hi := 0, len(v)-1
	for lo < hi {
		p := v[(lo+hi)/2]
		i, j := lo, hi
		for i <= j {
			for v[i] < p {
				i++
			}
			for v[j] > p {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		if k <= j {
			hi = j
		} else if k >= i {
			lo = i
		} else {
			break
		}
	}
	return v[k]
}
