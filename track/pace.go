package track

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
)

// Pace is when the frames of a recording are shown.
type Pace struct {
	Frames int `json:"frames"`
	// Rate is frames a second as numerator and denominator. Of a recording whose
	// frames come unevenly it is the constant one that fits most of them.
	Rate     [2]int  `json:"rate"`
	Variable bool    `json:"variable"`
	Slowest  float64 `json:"slowest"`            // frames a second, by the longest time between two frames
	Fastest  float64 `json:"fastest"`            // by the shortest
	Length   float64 `json:"length"`             // s, from the first frame to the last
	Timecode string  `json:"timecode,omitempty"` // of the first frame; "": the file has none
	Colour   string  `json:"colour,omitempty"`   // the matrix of its colours, as libav calls it; "": it says none
}

// FPS is Rate as a number, 0 where it is not known.
func (p Pace) FPS() float64 {
	if p.Rate[1] == 0 {
		return 0
	}
	return float64(p.Rate[0]) / float64(p.Rate[1])
}

// evenShare is how far a frame may be from its place at a constant rate, as a share
// of the time between two: half of it and a frame would be missing or double.
const evenShare = 0.25

// PaceOf finds the rate of frames shown at times (s, in any order), of a container
// that counts in ticks (s).
func PaceOf(times []float64, tick float64) (p Pace) {
	times = slices.Sorted(slices.Values(times))
	n := len(times)
	p.Frames = n
	if n < 2 || !(times[n-1] > times[0]) {
		return p
	}
	p.Length = times[n-1] - times[0]
	steps := make([]float64, n-1)
	for i := range steps {
		steps[i] = times[i+1] - times[i]
	}
	slices.Sort(steps)
	p.Slowest, p.Fastest = 1/steps[n-2], 1/math.Max(steps[0], tick)
	mean, middle := p.Length/float64(n-1), steps[(n-1)/2]
	worst := 0.0
	for k, t := range times {
		worst = math.Max(worst, math.Abs(t-times[0]-float64(k)*mean))
	}
	if worst <= math.Max(evenShare*mean, 1.5*tick) && worst < mean/2 {
		p.Rate = ratio(1/mean, 1.5*tick/p.Length)
		return p
	}
	p.Variable = true
	// Most frames are a tick or less from the middle's time.
	p.Rate = ratio(1/middle, math.Max(1.5*tick/middle, 0.004))
	return p
}

// ratio is a rate as cameras have it, whole or whole by 1.001, where one lies within
// a share of v; else to a thousandth.
func ratio(v, share float64) [2]int {
	share = math.Max(share, 1e-6)
	whole := math.Round(v)
	best, off := [2]int{int(math.Round(v * 1000)), 1000}, share
	for _, q := range [][2]int{{int(whole), 1}, {1000 * int(whole), 1001}} {
		if d := math.Abs(v*float64(q[1])/float64(q[0]) - 1); whole > 0 && d <= off {
			best, off = q, d
		}
	}
	return best
}

// Paces has the eye read the pace of each file.
func Paces(ctx context.Context, eye string, files []string) ([]Pace, error) {
	var out []Pace
	err := ask(ctx, eye, nil, func(r io.Reader) error {
		if err := json.NewDecoder(r).Decode(&out); err != nil || len(out) != len(files) {
			return fmt.Errorf("the pace of %v cannot be read: invalid reply from swathe-eye", files)
		}
		return nil
	}, append([]string{"pace"}, files...)...)
	return out, err
}
