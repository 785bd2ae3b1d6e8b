package conduct

import (
	"math"
	"math/rand"
	"testing"

	"swathe/coverage"
	"swathe/geom"
)

// How well events must be found: start 1 s, place 50 mm, 5 degrees a turn.
const (
	startTol = 1.0
	placeTol = 0.05
)

func checkAt(t *testing.T, e Event, start, x, y float64) {
	t.Helper()
	within(t, e.Kind+" start", e.Start, start, startTol)
	within(t, e.Kind+" place", math.Hypot(e.X-x, e.Y-y), 0, placeTol)
	if e.Unit == "" || math.IsNaN(e.Size) {
		t.Errorf("%s lacks a sentence, unit or size: %+v", e.Kind, e)
	}
	t.Log(e)
}

func TestSpin(t *testing.T) {
	for _, turns := range []float64{1, -1, 2, -3.25} {
		p := newPen(1, 1, 0, 1).drive(1, 0.3, 0)
		begin := p.t
		p.turn(360*turns).drive(0.5, 0.3, 0)
		res, _ := find(t, p.trace(), newPlan(t, 5, 4, nil), wren)
		e := one(t, res, Spin)
		checkAt(t, e, begin, 2, 1)
		within(t, "turn", e.Figures["turn_deg"], 360*turns, 5*math.Abs(turns))
		within(t, "turns", e.Figures["turns"], math.Abs(turns), 5.0/360*math.Abs(turns))
	}
}

// A spin that wanders off slowly is followed on; a U-turn and a wide circle are
// none.
func TestNoSpin(t *testing.T) {
	p := newPen(1, 1, 0, 2).drive(1, 0.3, 0).drive(math.Pi*0.09, 0.2, 180).drive(1, 0.3, 0).drive(2*math.Pi*0.3, 0.3, 360)
	p.drive(0.5, 0.3, 0).turn(180).turn(-180).turn(180).turn(-180).drive(1, 0.3, 0)
	res, _ := find(t, p.trace(), newPlan(t, 5, 4, nil), wren)
	if es := of(res, Spin); len(es) != 0 {
		t.Errorf("found %d spins, want none: %+v", len(es), es)
	}
}

func TestPause(t *testing.T) {
	p := newPen(1, 1, 0, 3).drive(1, 0.3, 0)
	begin := p.t
	p.wait(7).drive(1, 0.3, 0).wait(4.5).drive(0.5, 0.3, 0)
	res, _ := find(t, p.trace(), newPlan(t, 5, 4, nil), wren)
	e := one(t, res, Pause)
	checkAt(t, e, begin, 2, 1)
	within(t, "length", e.Size, 7, 0.5)
}

func TestStuck(t *testing.T) {
	p := newPen(1, 1, 0, 4).drive(1, 0.3, 0)
	begin := p.t
	for i := 0; i < 6; i++ {
		p.drive(-0.06, 0.15, 0).turn(35).drive(0.06, 0.15, 0).wait(0.3).turn(-35)
		p.pose = geom.Pose{X: 2, Y: 1} // drawn so that it stays about one place
	}
	end := p.t
	p.drive(1.2, 0.3, 0)
	res, cov := find(t, p.trace(), newPlan(t, 5, 4, nil), wren)
	e := one(t, res, Stuck)
	checkAt(t, e, begin, 2, 1)
	within(t, "length", e.Size, end-begin, 1.5)
	within(t, "booked as stuck", res.Ledger.Get(EntryStuck).TimeS, e.Size, 0.2)
	checkSum(t, res, cov)
}

// Start 2.000 m from a wall, radius 0.17 m, 0.30 m/s: contact at 6.100 s
// (computed from the closed form).
func TestContactVector(t *testing.T) {
	for _, does := range []string{Stops, Turns, Slides} {
		t.Run(does, func(t *testing.T) {
			p := newPen(3, 2, 0, 5).drive(1.83, 0.3, 0)
			x := 4.83
			switch does {
			case Stops:
				p.wait(2).drive(-0.4, 0.2, 0)
			case Turns:
				p.turn(120).drive(0.8, 0.3, 0)
			case Slides:
				// Pressed along the wall, its nose at 40 degrees to it.
				p.ss = p.ss[:0]
				p.t, p.pose = 0, geom.Pose{X: 3, Y: 2 - 1.83*math.Tan(geom.Radians(50)), Heading: geom.Radians(50)}
				p.mark(geom.Seen)
				p.drive(1.83/math.Cos(geom.Radians(50)), 0.3/math.Cos(geom.Radians(50)), 0)
				y := p.pose.Y
				p.forT(2, func(u float64) { p.pose.Y = y + u*0.4 })
				p.turn(90).drive(0.5, 0.3, 0)
			}
			res, _ := find(t, p.trace(), newPlan(t, 5, 4, nil), wren)
			kind := Contact
			if does == Turns {
				kind = Near // a robot that sees the wall may turn so, too
			}
			e := one(t, res, kind)
			within(t, "contact", e.Start, 6.1, 1.0/30)
			within(t, "place", math.Hypot(e.X-x, e.Y-2), 0, placeTol)
			if e.Words["reaction"] != does || e.Words["with"] != geom.WallName {
				t.Errorf("%v, want it %s at the wall", e.Words, does)
			}
			want, speed := 90.0, 0.3
			if does == Slides {
				want, speed = 40, 0.3/math.Cos(geom.Radians(50))
			}
			within(t, "angle", e.Figures["angle_deg"], want, 3)
			within(t, "speed", e.Figures["speed_mps"], speed, 0.02)
			t.Log(e)
		})
	}
}

// Following an edge at 6 mm, and stopping 15 mm from one, touches nothing.
func TestNoContact(t *testing.T) {
	p := newPen(1, 0.176, 0, 6).drive(3, 0.3, 0).turn(90).drive(1, 0.3, 0).turn(-90)
	p.drive(5-0.17-0.015-4, 0.3, 0).wait(1).turn(180).drive(1, 0.3, 0)
	res, _ := find(t, p.trace(), newPlan(t, 5, 4, nil), wren)
	if es := of(res, Contact); len(es) != 0 {
		t.Errorf("found %+v, want none", es)
	}
}

func TestRevisit(t *testing.T) {
	p := newPen(0.5, 0.5, 0, 7).drive(3, 0.3, 0)
	begin := p.t // the turn at its beginning belongs to it
	p.turn(180).drive(3, 0.3, 0)
	end := p.t
	p.turn(-90).drive(1.5, 0.3, 0)
	res, _ := find(t, p.trace(), newPlan(t, 5, 4, nil), wren)
	e := one(t, res, Revisit)
	within(t, "start", e.Start, begin, startTol)
	within(t, "end", e.End, end, startTol)
	within(t, "way", e.Figures["distance_m"], 3, 0.2)
	within(t, "lost", e.Figures["lost_s"], end-begin, 1)
	t.Log(e)
}

// However a robot wanders, no two revisits overlap and no event is told twice:
// stretches that both reach out over the turn between them are one.
func TestNoEventTwice(t *testing.T) {
	told := 0
	for seed := int64(1); seed <= 40; seed++ {
		// Rows with narrow gaps, then to and fro across them with turns on the spot:
		// now and then a little of a gap is new.
		rng := rand.New(rand.NewSource(seed))
		p := newPen(0.5, 0.5, 0, seed).wait(1).rows(7, 2, 0.18*(1+0.06*rng.Float64()), 0.3)
		for range 12 {
			for range rng.Intn(4) {
				d := float64(rng.Intn(17)-8) * 15
				p.turn(d).wait(0.3 * rng.Float64()).turn(-d)
			}
			p.to(0.7+1.6*rng.Float64(), 0.6+0.8*rng.Float64(), 0.1+0.2*rng.Float64())
		}
		res, _ := find(t, p.wait(1).trace(), newPlan(t, 3, 2.2, nil), wren)
		var last Event
		for i, e := range of(res, Revisit) {
			told++
			if i > 0 && e.Start < last.End {
				t.Errorf("seed %d: revisits from %.1f to %.1f s and from %.1f to %.1f s overlap", seed, last.Start, last.End, e.Start, e.End)
			}
			last = e
		}
		for i, e := range res.Events {
			for _, o := range res.Events[:i] {
				if e.Kind == o.Kind && e.Start == o.Start && e.End == o.End {
					t.Errorf("seed %d: %s from %.1f to %.1f s is told twice", seed, e.Kind, e.Start, e.End)
				}
			}
		}
	}
	if told < 24 {
		t.Errorf("only %d revisits: this tests little", told)
	}
}

// The thresholds of a revisit hold from both sides: a time of 5 s, a way of 1 m,
// 5 % of new floor. Each run drives over its own lane again.
func TestRevisitThresholds(t *testing.T) {
	for _, c := range []struct {
		what    string
		way, v  float64 // of the lane that is driven again
		aside   float64 // m to the side: so much of its width is new
		revisit bool
	}{
		{"4 s and 1.2 m", 1.2, 0.3, 0, false},
		{"7 s and 2.1 m", 2.1, 0.3, 0, true},
		{"7 s and 0.7 m", 0.7, 0.1, 0, false},
		{"8 s and 1.2 m", 1.2, 0.15, 0, true},
		{"8 s and 2.4 m, 3.5 % new", 2.4, 0.3, 0.0063, true},
		{"8 s and 2.4 m, 10 % new", 2.4, 0.3, 0.018, false},
	} {
		p := newPen(0.5, 0.6, 0, 15).drive(3, 0.3, 0)
		// It is set down where the lane began, by hand: no turn belongs to it.
		up := p.t
		p.wait(2)
		p.unseen(up+0.001, geom.Carried)
		p.pose = geom.Pose{X: 0.6, Y: 0.6 + c.aside}
		p.drive(c.way, c.v, 0)
		down := p.t
		p.wait(2)
		p.unseen(down+0.001, geom.Carried)
		p.pose = geom.Pose{X: 0.6, Y: 1.3}
		p.drive(2, 0.3, 0)
		tr := p.quiet()
		plan := newPlan(t, 3.8, 1.8, nil)
		opt := coverage.DefaultOptions()
		opt.Cell, opt.WidthStep, opt.Raster = 0.003, 0, false
		cov, err := coverage.Measure(tr, plan, wren, opt)
		if err != nil {
			t.Fatal(err)
		}
		res, err := Find(tr, plan, wren, cov, DefaultOptions())
		if err != nil {
			t.Fatal(err)
		}
		es := of(res, Revisit)
		for _, e := range es {
			t.Logf("%s: %s", c.what, e)
		}
		if len(es) > 1 || (len(es) == 1) != c.revisit {
			t.Errorf("%s: %d revisits, wanted %v", c.what, len(es), c.revisit)
		}
	}
}

func TestEdgeRetry(t *testing.T) {
	p := newPen(0.5, 2, 0, 8).drive(4.3, 0.3, 0)
	begin := p.t
	for i := 0; i < 5; i++ {
		p.wait(0.3).drive(-0.5, 0.2, 0).turn(12).turn(-12).drive(0.5, 0.2, 0)
	}
	p.turn(180).drive(2, 0.3, 0)
	res, _ := find(t, p.trace(), newPlan(t, 5, 4, nil), wren)
	e := one(t, res, EdgeRetry)
	if e.Size < 4 || e.Words["beside"] != geom.WallName {
		t.Errorf("%+v", e)
	}
	// The first visit cleaned the floor there, so the probing begins with it or
	// with the next.
	within(t, "start", e.Start, begin+2.5, 4)
	within(t, "place", math.Hypot(e.X-5, e.Y-2), 0, placeTol)
	t.Log(e)
}

func TestSwerve(t *testing.T) {
	p := newPen(0.5, 2, 0, 9).drive(1.5, 0.3, 0)
	begin := p.t
	p.drive(0.2, 0.3, 45).drive(0.2, 0.3, -45).drive(0.2, 0.3, -45).drive(0.2, 0.3, 45).drive(1.2, 0.3, 0)
	res, _ := find(t, p.trace(), newPlan(t, 5, 4, nil), wren)
	e := one(t, res, Swerve)
	checkAt(t, e, begin, 2, 2)
	// The same round an obstacle is none.
	res, _ = find(t, p.trace(), newPlan(t, 5, 4, nil, ring("stool", 0.4, corners(2.3, 1.85, 2.5, 2.0))), wren)
	if es := of(res, Swerve); len(es) != 0 {
		t.Errorf("swerved round an obstacle: %+v", es)
	}
}

func TestUnseenAndOutside(t *testing.T) {
	p := newPen(1, 1, 0, 10).drive(1, 0.3, 0)
	hid := p.t
	p.drive(0.9, 0.3, 0)
	p.unseen(hid+0.01, geom.Bridged)
	shown := p.t
	p.drive(0.9, 0.3, 0)
	up := p.t
	q := p.pose
	p.wait(4)
	p.unseen(up+0.01, geom.Carried)
	down := p.t
	p.pose = geom.Pose{X: 4.5, Y: 3}
	p.mark(geom.Seen)
	p.ss[len(p.ss)-1].T += 0.01
	p.t += 0.01
	p.drive(0.8, 0.3, 0)
	out := p.t - 1 // 0.3 m at 0.3 m/s
	p.turn(180).drive(0.8, 0.3, 0)
	res, _ := find(t, p.trace(), newPlan(t, 5, 4, nil), wren)
	e := one(t, res, Hidden)
	checkAt(t, e, hid, 2, 1)
	within(t, "hidden", e.End, shown, startTol)
	e = one(t, res, Carried)
	checkAt(t, e, up, q.X, q.Y)
	within(t, "carried", e.End, down, startTol)
	e = one(t, res, Outside)
	checkAt(t, e, out, 5, 3)
	within(t, "how far out", e.Figures["far_m"], 0.3, 0.02)
}

func TestDock(t *testing.T) {
	dock := &geom.Pose{X: 0.25, Y: 2, Heading: 0}
	p := newPen(0.25, 2, 0, 11)
	p.drive(0.5, 0.3, 0).turn(-90).drive(1.5, 0.3, 0).turn(90)
	p.rows(5, 3, 0.16, 0.3)
	home := p.t
	p.to(0.75, 2, 0.3)
	p.turn(-geom.Degrees(geom.WrapAngle(p.pose.Heading))).drive(-0.5, 0.15, 0)
	in := p.t
	p.wait(60)
	left := p.t
	p.drive(0.5, 0.3, 0).to(0.75, 1.4, 0.3).turn(90)
	work := p.t
	p.rows(4, 3, 0.16, 0.3)
	res, cov := find(t, p.trace(), newPlan(t, 4.2, 2.6, dock), wren)
	e := one(t, res, Dock)
	checkAt(t, e, in, 0.25, 2)
	within(t, "stay", e.Size, 60, 1)
	ls := of(res, Undock)
	if len(ls) != 2 {
		t.Fatalf("%d departures, want 2", len(ls))
	}
	checkAt(t, ls[0], 0, 0.25, 2)
	checkAt(t, ls[1], left, 0.25, 2)
	d := res.Docking
	if d == nil || d.Trips != 1 {
		t.Fatalf("docking %+v, want one trip", d)
	}
	within(t, "docked", d.DockedS, 60, 1)
	within(t, "returning to dock", d.ToDockS, in-home, 3)
	within(t, "leaving dock", d.BackS, work-left, 3)
	// The ledger books the ways as what they are, not as driving in the open.
	l := res.Ledger
	within(t, "booked as returning", l.Get(EntryReturning).TimeS, d.ToDockS, 0.5)
	within(t, "booked as docked", l.Get(EntryDocked).TimeS, d.DockedS, 1)
	within(t, "booked as leaving", l.Get(EntryLeaving).TimeS, d.BackS, 0.5)
	checkSum(t, res, cov)
	// Half of the floor was not reached before the stay, so all of it counts.
	for i, at := range cov.Coverage.TimeToReachable {
		if math.IsNaN(at) != math.IsNaN(d.TimeToReachable[i]) {
			t.Errorf("time to %d %%: %g s with the dock, %g without", coverage.Levels[i], at, d.TimeToReachable[i])
		}
		if at > left {
			within(t, "time without the dock", d.TimeToReachable[i], at-d.DockedS-d.ToDockS-d.BackS, 1)
		}
	}
	if len(of(res, Pause)) != 0 || len(of(res, Contact)) != 0 {
		t.Error("standing in the dock is neither a pause nor a touch")
	}
}

// A run over two recordings: what lies between is docked time if it was in the
// dock before and after, else hidden.
func TestBreak(t *testing.T) {
	for _, home := range []bool{true, false} {
		dock := &geom.Pose{X: 0.25, Y: 2, Heading: 0}
		p := newPen(0.25, 2, 0, 12).drive(1, 0.3, 0)
		if home {
			p.drive(-1, 0.2, 0)
		}
		p.wait(4)
		begin := p.t
		p.t += 600
		p.wait(4).drive(1.5, 0.3, 0).turn(90).drive(1, 0.3, 0)
		res, cov := find(t, p.trace(), newPlan(t, 5, 4, dock), wren)
		checkSum(t, res, cov)
		e := one(t, res, Hidden)
		within(t, "break", e.Start, begin, startTol)
		within(t, "break lasts", e.Size, 600, 1)
		if home {
			within(t, "docked", res.Ledger.Get(EntryDocked).TimeS, 608, 2)
			within(t, "docked", res.Docking.DockedS, 608, 2)
			within(t, "stay", one(t, res, Dock).Size, 608, 2)
		} else {
			within(t, "hidden", res.Ledger.Get(EntryHidden).TimeS, 600, 2)
		}
		within(t, "active", res.Active.ActiveS, res.Active.TotalS-600-8*map[bool]float64{true: 1}[home], 9)
	}
}

// A robot with a flat front 0.15 m ahead of its centre meets the wall with it.
func TestContactFlatFront(t *testing.T) {
	robot := wren
	robot.Diameter, robot.Outline = 0, corners(-0.17, -0.17, 0.15, 0.17)
	p := newPen(3, 2, 0, 13).drive(1.85, 0.3, 0).wait(2).drive(-0.5, 0.2, 0)
	res, _ := find(t, p.trace(), newPlan(t, 5, 4, nil), robot)
	e := one(t, res, Contact)
	within(t, "contact", e.Start, 1.85/0.3, 1.0/30)
	within(t, "angle", e.Figures["angle_deg"], 90, 3)
	if e.Words["reaction"] != Stops {
		t.Errorf("%v, want it to stop", e.Words)
	}
}

// Where no heading is known the direction of travel serves, and what needs a
// heading is not made up.
func TestNoHeading(t *testing.T) {
	p := newPen(1, 1, 0, 14).drive(1.5, 0.3, 0).wait(7).turn(720)
	p.rows(5, 1.5, 0.16, 0.3)
	tr := p.trace()
	for i := range tr.Samples {
		tr.Samples[i].Heading, tr.Samples[i].Source = math.NaN(), geom.HeadingUnknown
	}
	res, cov := find(t, tr, newPlan(t, 5, 4, nil), wren)
	checkSum(t, res, cov)
	if len(of(res, Spin)) != 0 {
		t.Error("a spin without a heading")
	}
	// The spin shows as standing: what is seen of it is a robot that stays.
	e := one(t, res, Pause)
	within(t, "pause", e.Size, 7+8+1, 1.5)
	if len(res.Rows.Blocks) != 1 {
		t.Errorf("%d blocks of rows, want 1", len(res.Rows.Blocks))
	}
}
