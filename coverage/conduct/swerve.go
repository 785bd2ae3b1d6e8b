package conduct

import (
	"math"

	"swathe/geom"
)

// A swerve is sought between two straight stretches of swervePiece m or more,
// at most swerveTime s and swerveWay m apart, that lie on one line to within
// swerveLine m and swerveTurn rad.
const (
	swervePiece = 0.25
	swerveTime  = 15.0
	swerveWay   = 3.0
	swerveLine  = 0.05
	swerveTurn  = 8 * math.Pi / 180
)

// swerves finds where the robot left a straight line and came back to it
// although nothing stands on it.
func (r *run) swerves() []Event {
	ls := r.straights(swervePiece)
	var out []Event
	for i := 0; i < len(ls); i++ {
		for k := i + 1; k < len(ls) && ls[k].Start-ls[i].End <= swerveTime; k++ {
			e, ok := r.swerve(ls[i], ls[k])
			if !ok && k == i+1 {
				e, ok = r.turnsAside(ls[i], ls[k])
			}
			if ok {
				out = append(out, e)
				i = k - 1
				break
			}
		}
	}
	return out
}

func (r *run) swerve(a, b Lane) (Event, bool) {
	if math.Abs(geom.WrapAngle(a.Direction-b.Direction)) > swerveTurn {
		return Event{}, false
	}
	off, along := a.offset(b.From)
	gap := along - a.LengthM
	if math.Abs(off) > swerveLine || gap < 0.05 || gap > swerveWay {
		return Event{}, false
	}
	// How far it strayed between, and how much it turned.
	side, turn, edge, n := 0.0, 0.0, 0, 0
	for k := a.last; k <= b.first; k++ {
		t := r.ticks[k]
		if !t.known {
			return Event{}, false
		}
		n++
		if r.far[k] <= r.opt.EdgeDistance {
			edge++
		}
		o, _ := a.offset(t.at())
		if math.Abs(o) > math.Abs(side) {
			side = o
		}
		if d := geom.WrapAngle(t.course - a.Direction); math.Abs(d) > math.Abs(turn) {
			turn = d
		}
	}
	// Whoever drives along an edge goes where it leads.
	if math.Abs(side) < r.opt.SwerveOffset || 3*edge > n || r.far[a.last] <= r.opt.EdgeDistance {
		return Event{}, false
	}
	if !r.freeAhead(a, along) {
		return Event{}, false
	}
	return Event{Kind: Swerve, Start: a.End, End: b.Start, X: r.ticks[a.last].x, Y: r.ticks[a.last].y, Size: math.Abs(side), Unit: "m",
		Figures: map[string]float64{"side_m": side, "turn_deg": geom.Degrees(turn), "gap_m": gap}}, true
}

// freeAhead tells whether the body, going straight on along lane a from its end
// until it is until m from its start, would meet nothing: no wall or obstacle,
// no test object within half its width and no area that it is to keep out of.
func (r *run) freeAhead(a Lane, until float64) bool {
	s, c := math.Sincos(a.Direction)
	for u := a.LengthM; u <= until; u += 0.02 {
		p := geom.Pose{X: a.From.X + u*c, Y: a.From.Y + u*s, Heading: a.Direction}
		if far, _ := r.clearance(p); far < r.opt.SwerveClear {
			return false
		}
		for _, z := range r.plan.TestObjects {
			if r.bodyGap(p, geom.RingCorners(z.Outline)) < r.radius() {
				return false
			}
		}
		for _, z := range r.plan.Areas {
			if z.Kind == geom.AreaOffLimits && r.bodyGap(p, geom.RingCorners(z.Outline)) < r.radius() {
				return false
			}
		}
	}
	return true
}

// A robot that turns aside for good does so on a curve: who stops and turns on
// the spot has somewhere to go. Its turn is between SwerveTurn and
// asideMost, from a straight way of asideBefore m, within asideTime s and
// asideWay m, with SwerveAhead free ahead of it. Turned by more it goes back.
const (
	asideMost   = 120 * math.Pi / 180
	asideBefore = 0.4
	asideTime   = 4.0
	asideWay    = 0.6
)

// turnsAside judges the bend between two straight stretches that follow each
// other.
func (r *run) turnsAside(a, b Lane) (Event, bool) {
	turn := geom.WrapAngle(b.Direction - a.Direction)
	if math.Abs(turn) < r.opt.SwerveTurn || math.Abs(turn) > asideMost || a.LengthM < asideBefore ||
		b.Start-a.End > asideTime || b.From.Dist(a.To) > asideWay {
		return Event{}, false
	}
	curve := 0.0
	for k := a.last; k < b.first; k++ {
		if !r.ticks[k].known || !r.ticks[k+1].known || r.far[k] <= r.opt.EdgeDistance {
			return Event{}, false
		}
		// A fifth of its turning radius is more than the wheels slip.
		if r.ticks[k].dist(r.ticks[k+1]) > r.radius()/5*math.Abs(r.ticks[k+1].h-r.ticks[k].h) {
			curve += r.ticks[k+1].h - r.ticks[k].h
		}
	}
	if curve*turn < 0 || math.Abs(curve) < 0.6*math.Abs(turn) || !r.freeAhead(a, a.LengthM+r.opt.SwerveAhead) {
		return Event{}, false
	}
	return Event{Kind: Swerve, Start: a.End, End: b.Start, X: a.To.X, Y: a.To.Y, Size: geom.Degrees(math.Abs(turn)), Unit: "deg",
		Figures: map[string]float64{"turn_deg": geom.Degrees(turn), "free_m": r.opt.SwerveAhead}}, true
}

// bodyGap is the distance of the body at pose p from an outline, m.
func (r *run) bodyGap(p geom.Pose, ring []geom.Point2) float64 {
	if r.robot.Round() {
		return discGap(geom.Point2{X: p.X, Y: p.Y}, r.robot.Diameter/2, ring)
	}
	body := make([]geom.Point2, len(r.robot.Outline))
	for i, b := range r.robot.Outline {
		body[i] = p.At(b)
	}
	return OutlineGap(body, ring)
}
