package sight

import (
	"math"

	"swathe/geom"
)

// findMarker looks for the robot's marker near a place, nil for anywhere.
func (w *Watcher) findMarker(p *Picture, floor float64, near *geom.Point2) (MarkerFix, bool) {
	return MarkerSearch{Camera: w.set.Cam, Marker: *w.set.Robot.Marker, Floor: floor, Near: near, Warp: w.fitter.Warp}.In(w.Marker, &p.Y)
}

// marked is what the robot's marker said last.
type marked struct {
	t   float64 // s, of the picture
	fix MarkerFix
	ok  bool
}

// onIt tells whether the marker lies on a robot at a place: else it is another's, or not
// where its entry says.
func (m *marked) onIt(r *geom.Robot, x, y float64) bool {
	return m.ok && math.Hypot(m.fix.X-x, m.fix.Y-y) <= 0.5*r.Radius()
}

// atMarker tells whether the marker says, in this picture, that the robot is at a
// place; near the first that is asked for it is looked for.
func (w *Watcher) atMarker(p *Picture, x, y float64) bool {
	if w.Marker == nil || w.set.Robot.Marker == nil {
		return false
	}
	m := &w.mark
	if at := (geom.Point2{X: x, Y: y}); m.t != p.T {
		m.t = p.T
		m.fix, m.ok = w.findMarker(p, w.set.Floor(at), &at)
	}
	return m.onIt(&w.set.Robot, x, y)
}

// readMarker joins what the marker says to a sighting that the outline gave.
func (w *Watcher) readMarker(p *Picture, s *Sighting) {
	if !w.atMarker(p, s.X, s.Y) {
		return
	}
	m := w.mark.fix
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
	w.mark = marked{p.T, m, true}
	w.aim(m.Pose())
	if f, good := w.fitter.At(&p.Y, &w.bg.Y, m.Pose(), 4); good && seen(&f) {
		return f, true
	}
	return Fit{Pose: m.Pose(), Cov: m.Cov, Visible: 1, RMS: m.RMS, Gain: 1}, true
}
