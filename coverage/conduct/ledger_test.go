package conduct

import (
	"math"
	"testing"

	"swathe/coverage"
	"swathe/geom"
)

// sum checks that the ledger is the run: time, distance, area and redundancy.
func checkSum(t *testing.T, res *Result, cov *coverage.Result) {
	t.Helper()
	var s, d, fresh, again, red float64
	for _, e := range res.Ledger.Entries {
		if e.TimeS < 0 || e.DistanceM < 0 || e.NewM2 < 0 || e.AgainM2 < -1e-9 {
			t.Errorf("%s is negative: %+v", e.Name, e)
		}
		s, d, fresh, again, red = s+e.TimeS, d+e.DistanceM, fresh+e.NewM2, again+e.AgainM2, red+e.Redundancy
	}
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"seconds", s, cov.Motion.DurationS},
		{"distance", d, cov.Motion.DistanceM},
		{"new floor", fresh, cov.Coverage.CoveredM2},
		{"floor again", again, cov.Coverage.SweptM2 - cov.Coverage.CoveredM2},
		{"redundancy", red, cov.Coverage.Redundancy},
	} {
		if !(math.Abs(c.got-c.want) <= 1e-6*(1+math.Abs(c.want))) {
			t.Errorf("the entries' %s sum to %.9f, the run's is %.9f", c.what, c.got, c.want)
		}
	}
}

// Whatever a robot does, and however it is seen, the ledger is the run.
func TestLedgerIsTheRun(t *testing.T) {
	const first, n = 1, 12
	t.Logf("seeds %d to %d", first, first+n-1)
	dock := &geom.Pose{X: 0.4, Y: 0.4}
	stool := ring("stool", 0.4, corners(2, 1.5, 2.4, 1.9))
	for seed := int64(first); seed < first+n; seed++ {
		p := newPen(1+3*float64(seed%5)/5, 1, float64(40*seed), seed)
		p.dt = []float64{1.0 / 30, 0.1, 0.07}[seed%3]
		for p.t < 60 {
			switch p.rng.Intn(8) {
			case 0:
				p.turn(700 * (p.rng.Float64() - 0.5))
			case 1:
				p.wait(8 * p.rng.Float64())
			case 2:
				from := p.t
				p.drive(p.rng.Float64(), 0.3, 0)
				p.unseen(from, []geom.State{geom.Bridged, geom.Lost, geom.Carried}[p.rng.Intn(3)])
			case 3:
				p.drive(-0.2*p.rng.Float64(), 0.15, 0)
			case 4:
				p.to(0.4, 0.4, 0.3).wait(4 * p.rng.Float64())
			default:
				p.to(0.3+4.4*p.rng.Float64(), 0.3+3.4*p.rng.Float64(), 0.3)
			}
		}
		tr := p.trace()
		// The run begins and ends between samples.
		tr.Run.From += 0.013
		tr.Run.To -= 0.017
		res, cov := find(t, tr, newPlan(t, 5, 4, dock, stool), wren)
		checkSum(t, res, cov)
		last := math.Inf(-1)
		for _, e := range res.Events {
			if e.Start < last || e.End < e.Start || e.Start < tr.Run.From-1e-9 || e.End > tr.Run.To+1e-9 || math.IsNaN(e.Size) {
				t.Errorf("out of order, out of the run or without size: %+v", e)
			}
			last = e.Start
		}
		if t.Failed() {
			t.Fatalf("seed %d", seed)
		}
	}
}

func TestLedgerEntries(t *testing.T) {
	p, _ := twoLayers()
	turns := 22*2*1.0 + 2*1.0 // on the spot, s: quarter turns, one each second
	res, cov := find(t, p.trace(), newPlan(t, 5, 4, nil), wren)
	checkSum(t, res, cov)
	for _, e := range res.Ledger.Entries {
		t.Logf("%-26s %7.2f s %6.2f m %6.3f m2 new %6.3f m2 again", e.Name, e.TimeS, e.DistanceM, e.NewM2, e.AgainM2)
	}
	l := res.Ledger
	lanes := 12 * 1.87 / 0.3
	// Of a lane 0.18 m wide, 0.01 m overlaps its neighbour, but for the first.
	overlap := lanes * 11 / 12 * 0.01 / 0.18
	// Between lanes the line sweeps half its width beyond their ends.
	hops := 11 * 0.17 / 0.3
	within(t, "new floor", l.Get(EntryNew).TimeS, lanes-overlap+hops/2, 3)
	within(t, "lane overlap", l.Get(EntryLane).TimeS, overlap, 3)
	within(t, "second layer", l.Get(EntryLayer).TimeS, lanes, 3)
	within(t, "turning", l.Get(EntryTurning).TimeS, turns, 3)
	within(t, "standing", l.Get(EntryStanding).TimeS, 0, 1)
	within(t, "reversing", l.Get(EntryReversing).TimeS, 0, 1)
	within(t, "speed", l.SpeedMPS, 0.3, 0.005)
	within(t, "least", l.LeastS, cov.Coverage.CoveredM2/(0.18*0.3), 2)
}

// Following a wall at a third of the robot's own speed is driving along an edge,
// not idleness; standing, reversing and turning are told apart.
func TestLedgerSlowEdge(t *testing.T) {
	p := newPen(0.5, 2, 0, 33).drive(3, 0.3, 0).turn(180).drive(3, 0.3, 0).turn(90).drive(1.81, 0.3, 0).turn(90)
	slow := p.t
	p.drive(3.5, 0.1, 0)
	slow = p.t - slow
	p.wait(8)
	back := p.t
	p.drive(-0.6, 0.1, 0)
	back = p.t - back
	p.turn(-360).drive(0.3, 0.3, 0)
	res, cov := find(t, p.trace(), newPlan(t, 5, 4, nil), wren)
	checkSum(t, res, cov)
	l := res.Ledger
	for _, e := range l.Entries {
		if e.TimeS > 0 {
			t.Logf("%-26s %7.2f s %6.2f m %6.3f m2 new", e.Name, e.TimeS, e.DistanceM, e.NewM2)
		}
	}
	within(t, "along edges", l.Get(EntryEdge).TimeS, slow, 2)
	within(t, "standing", l.Get(EntryStanding).TimeS, 8, 1)
	within(t, "reversing", l.Get(EntryReversing).TimeS, back, 1)
	within(t, "turning", l.Get(EntryTurning).TimeS, p.turned/90, 2)
}

func TestLedgerEdgesDockHidden(t *testing.T) {
	dock := &geom.Pose{X: 0.25, Y: 2, Heading: 0}
	p := newPen(0.25, 2, 0, 31)
	p.drive(0.5, 0.3, 0).to(0.19, 1.2, 0.3)
	edge := p.t
	p.to(0.19, 0.19, 0.3).to(4.81, 0.19, 0.3).to(4.81, 3.81, 0.3)
	edge = p.t - edge - 3 // three turns on the spot, a second each at 90 degrees
	stool := corners(2.2, 1.6, 2.6, 2.0)
	p.to(3.2, 3.0, 0.3)
	p.to(2.785, 1.6, 0.3)
	round := p.t
	p.to(2.785, 2.2, 0.3)
	round = p.t - round
	hid := p.t
	p.to(3.6, 2.2, 0.3)
	p.unseen(hid+0.001, geom.Lost)
	hid = p.t - hid
	for i := range p.ss { // seen again where it ends
		if i == len(p.ss)-1 {
			p.ss[i].State, p.ss[i].X, p.ss[i].Y = geom.Seen, p.pose.X, p.pose.Y
		}
	}
	p.wait(6)
	p.to(3.6, 1.0, 0.3)
	res, cov := find(t, p.trace(), newPlan(t, 5, 4, dock, ring("stool", 0.4, stool)), wren)
	checkSum(t, res, cov)
	for _, e := range res.Ledger.Entries {
		t.Logf("%-26s %7.2f s %6.2f m %6.3f m2 new %6.3f m2 again", e.Name, e.TimeS, e.DistanceM, e.NewM2, e.AgainM2)
	}
	l := res.Ledger
	within(t, "along edges", l.Get(EntryEdge).TimeS, edge, 3)
	within(t, "around obstacles", l.Get(EntryAround).TimeS, round, 3)
	within(t, "hidden or lost", l.Get(EntryHidden).TimeS, hid, 3)
}
