package sight

import (
	"math"

	"swathe/geom"
)

// findMarker looks for the robot's marker near a place, nil for anywhere.
func (w *Watcher) findMarker(p *Picture, floor float64, near *geom.Point2) (MarkerFix, bool) {
	return MarkerSearch{Camera: w.set.Cam, Marker: *w.set.Robot.Marker, Floor: floor, Near: near, Warp: w.fitter.Warp}.In(w.Marker, &p.Y)
}

// readMarker joins what the marker says to a sighting that the outline gave.
func (w *Watcher) readMarker(p *Picture, s *Sighting) {
	if w.Marker == nil || w.set.Robot.Marker == nil {
		return
	}
	at := geom.Point2{X: s.X, Y: s.Y}
	m, ok := w.findMarker(p, w.set.Floor(at), &at)
	// A marker that is not on this robot, or not where its entry says.
	if !ok || math.Hypot(m.X-s.X, m.Y-s.Y) > 0.5*w.set.Robot.Radius() {
		return
	}
	s.Source, s.Turn, s.TurnSigma = "marker", m.Heading, m.SigmaH
	if x, y, cov, ok := fuse(geom.Pose{X: s.X, Y: s.Y}, s.Cov, m.Pose(), m.Cov); ok {
		s.X, s.Y, s.Cov = x, y, cov
	}
}

// byMarker looks for the robot by its marker alone, anywhere in the picture:
// where a person stands over it, or it is as bright as the floor, its outline
// may not be found.
func (w *Watcher) byMarker(p *Picture) (fit Fit, ok bool) {
	if w.Marker == nil || w.set.Robot.Marker == nil {
		return fit, false
	}
	// Where the camera has moved, the map is that of the middle of the room.
	w.aim(geom.Pose{X: (w.set.Lo.X + w.set.Hi.X) / 2, Y: (w.set.Lo.Y + w.set.Hi.Y) / 2})
	m, ok := w.findMarker(p, 0, nil)
	at := geom.Point2{X: m.X, Y: m.Y}
	if !ok || !w.set.May(at) {
		return fit, false
	}
	if z := w.set.Floor(at); z != 0 || w.motion.Px != 0 { // once more, with the floor and the map of that place
		w.aim(m.Pose())
		if m, ok = w.findMarker(p, z, &at); !ok {
			return fit, false
		}
	}
	w.aim(m.Pose())
	if f, good := w.fitter.At(&p.Y, &w.bg.Y, m.Pose(), 4); good && sits(f) {
		return f, true
	}
	return Fit{Pose: m.Pose(), Cov: m.Cov, Visible: 1, RMS: m.RMS, Gain: 1}, true
}
