package sight

import "swathe/geom"

// Sized fits the robot at shares of its entered width in a picture, wherever
// something differs from the background, and returns of each share the fit
// that sits best, however badly, and whether it is the robot beyond doubt. ok is false
// where nothing of about its size differs. The picture is judged by itself.
func (w *Watcher) Sized(p *Picture, shares []float64) (fits []SizedFit, ok bool) {
	w.Anew()
	w.steer(p)
	w.whole(p)
	places := w.finder.Candidates(5, w.set.Robot.Radius())
	if len(places) == 0 {
		return nil, false
	}
	entry := w.set.Robot
	defer func() { w.set.Robot, w.fitter.Robot = entry, entry }()
	w.fitter.Expect = 0
	heading := make([]float64, len(places)) // of a robot that is not round: as fits at the first share
	for _, share := range shares {
		r := SizedFit{Share: share}
		w.set.Robot = Resized(entry, share)
		w.fitter.Robot = w.set.Robot
		for i, c := range places {
			w.aim(c.Pose)
			var f Fit
			var good bool
			if len(fits) == 0 {
				f, good = w.fitTurned(p, c.Pose)
				heading[i] = f.Pose.Heading
			} else {
				c.Pose.Heading = heading[i]
				f, good = w.fitter.At(&p.Y, &w.bg.Y, c.Pose, searchReach(&w.set))
			}
			if !good || !w.set.May(geom.Point2{X: f.Pose.X, Y: f.Pose.Y}) {
				continue
			}
			sure := alone(&f)
			if sure && !r.Sure || sure == r.Sure && f.Quality() > r.Quality() {
				r.Fit, r.Sure = f, sure
			}
		}
		fits = append(fits, r)
	}
	return fits, true
}

// SizedFit is the best fit at a share of the entered width.
type SizedFit struct {
	Fit
	Share float64
	Sure  bool // it is the robot beyond doubt
}
