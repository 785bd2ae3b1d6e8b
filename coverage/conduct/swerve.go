package conduct

import (
	"fmt"
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
			if e, ok := r.swerve(ls[i], ls[k]); ok {
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
	s, c := math.Sincos(a.Direction)
	pose := func(u float64) geom.Pose {
		return geom.Pose{X: a.From.X + u*c, Y: a.From.Y + u*s, Heading: a.Direction}
	}
	for u := a.LengthM; u <= along; u += 0.02 {
		if far, _ := r.clearance(pose(u)); far < r.opt.SwerveClear {
			return Event{}, false
		}
		for _, p := range r.plan.Props {
			if r.bodyGap(pose(u), geom.RingCorners(p.Outline)) < r.radius() {
				return Event{}, false
			}
		}
		for _, z := range r.plan.Areas {
			if z.Kind == geom.AreaKeepOut && r.bodyGap(pose(u), geom.RingCorners(z.Outline)) < r.radius() {
				return Event{}, false
			}
		}
	}
	way := "left"
	if side < 0 {
		way = "right"
	}
	e := Event{Kind: Swerve, Start: a.End, End: b.Start, X: r.ticks[a.last].x, Y: r.ticks[a.last].y, Size: math.Abs(side), Unit: "m",
		Figures: map[string]float64{"side_m": side, "turn_deg": geom.Degrees(turn), "gap_m": gap}}
	e.Sentence = fmt.Sprintf("At %s it swerved to the %s by %.2f m %s and came back to its line after %.2f m, with nothing standing in its way.",
		at(e.Start), way, e.Size, place(e.X, e.Y), gap)
	return e, true
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
