package track

import (
	"math"

	"swathe/geom"
)

// travelStep is how far the robot must go before its direction of travel is
// taken anew, m: with 2 mm of jitter a direction over 40 mm is good to 4
// degrees, and jitter alone never reaches it, so a standing robot does not turn.
const travelStep = 0.04

// travelHeading gives every sample the direction of travel, held while the robot
// stands. Stretches between Lost or Carried samples stand for themselves; one
// too short to show a direction takes the last one before it.
//
// The path is thinned to corners travelStep apart. Along an arc the chord's
// direction is that of the path at its middle, so the direction is led over
// smoothly from one chord to the next; where the path turns back on itself by
// more than a right angle the robot turned on the spot, and it steps.
func travelHeading(s []geom.Sample) {
	held := math.NaN()
	for i := 0; i < len(s); {
		if cut(s[i].State) {
			i++
			continue
		}
		j := i
		for j < len(s) && !cut(s[j].State) {
			j++
		}
		held = travelStretch(s[i:j], held)
		i = j
	}
}

func travelStretch(s []geom.Sample, held float64) float64 {
	corners := []int{0}
	for i := range s {
		c := s[corners[len(corners)-1]]
		if math.Hypot(s[i].X-c.X, s[i].Y-c.Y) >= travelStep {
			corners = append(corners, i)
		}
	}
	n := len(corners) - 1 // chords
	if n == 0 {
		for i := range s {
			setTravel(&s[i], held)
		}
		return held
	}
	dir := make([]float64, n)
	prev := held
	for k := range dir {
		a, b := s[corners[k]], s[corners[k+1]]
		dir[k] = math.Atan2(b.Y-a.Y, b.X-a.X)
		if !math.IsNaN(prev) {
			dir[k] = prev + geom.WrapAngle(dir[k]-prev)
		}
		prev = dir[k]
	}
	smooth := func(k int) bool { // whether chord k-1 leads over to chord k
		return k > 0 && k < n && math.Abs(dir[k]-dir[k-1]) < math.Pi/2
	}
	for k := range dir {
		from, to := dir[k], dir[k]
		if smooth(k) {
			from = (dir[k-1] + dir[k]) / 2
		}
		if smooth(k + 1) {
			to = (dir[k] + dir[k+1]) / 2
		}
		a, b := s[corners[k]], s[corners[k+1]]
		length := math.Hypot(b.X-a.X, b.Y-a.Y)
		gone := 0.0
		for i := corners[k]; i < corners[k+1]; i++ {
			gone = math.Max(gone, math.Min(1, math.Hypot(s[i].X-a.X, s[i].Y-a.Y)/length))
			setTravel(&s[i], from+gone*(to-from))
		}
	}
	for i := corners[n]; i < len(s); i++ {
		setTravel(&s[i], dir[n-1])
	}
	return dir[n-1]
}

func setTravel(s *geom.Sample, heading float64) {
	s.Heading = heading
	if !math.IsNaN(heading) {
		s.Source = geom.HeadingTravel
	}
}
