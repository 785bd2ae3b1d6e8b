package sight

import "slices"

// A sorter sorts many short lists at once: the steps of Batcher's odd-even merge
// sort (Batcher 1968; Knuth, The Art of Computer Programming 3, 5.2.2, algorithm
// M), which are the same whatever the values. So four lists are packed into each
// word, 16 bits to a value, and no step waits for the outcome of a comparison.
type sorter struct {
	n     int
	steps [][2]uint16 // of the two values the smaller comes first
}

const (
	lanes   = 4 // lists in a word
	tops    = 0x8000800080008000
	largest = 0x7fff // value that can be sorted: in sixteenths of a grey level, eight times white
)

// newSorter returns a sorter of lists of n values, of which only those behind
// lo and before hi are looked at, all together: what does not change which these are is left out.
func newSorter(n, lo, hi int) *sorter {
	s := &sorter{n: n}
	t := 0
	for 1<<t < n {
		t++
	}
	for p := 1 << max(t-1, 0); p > 0 && n > 1; p /= 2 {
		q, r, d := 1<<(t-1), 0, p
		for {
			for i := 0; i < n-d; i++ {
				if i&p == r {
					s.steps = append(s.steps, [2]uint16{uint16(i), uint16(i + d)})
				}
			}
			if q == p {
				break
			}
			d, q, r = q-p, q/2, p
		}
	}
	// From the last step to the first: one between two places that nobody tells
	// apart is of no use.
	place := make([]int, n)
	for i := range n {
		if place[i] = 1; i < lo {
			place[i] = 0
		} else if i >= hi {
			place[i] = 2
		}
	}
	kept := s.steps[:0:0]
	for k := len(s.steps) - 1; k >= 0; k-- {
		a, b := s.steps[k][0], s.steps[k][1]
		if place[a] != place[b] {
			kept = append(kept, s.steps[k])
			place[a], place[b] = 3+2*k, 4+2*k
		}
	}
	slices.Reverse(kept)
	s.steps = kept
	return s
}

// sort sorts the four lists in v, as far as was asked for.
func (s *sorter) sort(v []uint64) {
	for _, c := range s.steps {
		a, b := v[c[0]], v[c[1]]
		m := ((a | tops) - b) & tops // where a >= b
		m -= m >> 15
		m &= a ^ b
		v[c[0]], v[c[1]] = a^m, b^m
	}
}

// third is the part of n sorted values that middle takes the mean of.
func third(n int) (lo, hi int) {
	if n < 3 {
		return 0, n
	}
	return n / 3, n - n/3
}

// middles is middle for each of the pixels of a line, of which rows holds the
// values, sample after sample, not sorted.
func (s *sorter) middles(rows [][]uint16, out []uint8) {
	lo, hi := third(s.n)
	v := make([]uint64, s.n)
	for x := 0; x < len(out); x += lanes {
		m := min(lanes, len(out)-x)
		for k, r := range rows[:s.n] {
			w := uint64(0)
			if m == lanes {
				r = r[x : x+lanes : x+lanes]
				w = uint64(r[0]) | uint64(r[1])<<16 | uint64(r[2])<<32 | uint64(r[3])<<48
			} else {
				for l := range m {
					w |= uint64(r[x+l]) << (16 * l)
				}
			}
			v[k] = w
		}
		s.sort(v)
		for l := range m {
			sum := int32(0)
			for _, w := range v[lo:hi] {
				sum += int32(w >> (16 * l) & largest)
			}
			out[x+l] = thirdMean(sum, hi-lo)
		}
	}
}
