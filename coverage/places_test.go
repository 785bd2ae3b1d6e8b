package coverage

import (
	"math"
	"testing"

	"swathe/geom"
)

// fourRooms is 112 m2: 16 x 7 m in four rooms joined by doors 0.9 m wide.
func fourRooms() *geom.Plan {
	return planOf(rect(0, 0, 16, 7),
		piece("a1", rect(8, 0, 8.15, 1.5)), piece("a2", rect(8, 2.4, 8.15, 5)), piece("a3", rect(8, 5.9, 8.15, 7)),
		piece("b1", rect(0, 3.5, 3, 3.65)), piece("b2", rect(3.9, 3.5, 8, 3.65)),
		piece("c1", rect(8.15, 3.5, 12, 3.65)), piece("c2", rect(12.9, 3.5, 16, 3.65)))
}

// Several rooms: everything within reach from the first if the doors are wide
// enough, the first alone if a door is shut, whatever the path.
func TestSeveralRooms(t *testing.T) {
	robot := hourRobot()
	tr := newPen(1, 1, 0).drive(4, 0.3, 0).trace()
	open := measure(t, tr, fourRooms(), robot, at(0.02))
	shut := fourRooms()
	shut.Obstacles = append(shut.Obstacles, piece("door", rect(8, 1.5, 8.15, 1.85)), piece("door2", rect(3, 3.5, 3.6, 3.65)))
	one := measure(t, tr, shut, robot, at(0.02))
	rho := math.Hypot(0.09, 0.02)
	reach := func(w, h float64) float64 {
		w, h = w-0.34, h-0.34
		return w*h + 2*(w+h)*rho + math.Pi*rho*rho
	}
	// The door to the right is 0.55 m wide still; the one up is shut at 0.3 m.
	within(t, "open floor", open.Floor.OpenM2, 112-0.15*(7-1.8)-0.15*(8-0.9)-0.15*(7.85-0.9), 1e-9)
	if open.Floor.ReachableM2 < 4*reach(7.85, 3.35) {
		t.Errorf("only %g m2 of the four rooms are within reach", open.Floor.ReachableM2)
	}
	if one.Floor.ReachableM2 > open.Floor.ReachableM2 {
		t.Errorf("shutting a door opened floor")
	}
	shut.Obstacles = append(shut.Obstacles, piece("door3", rect(8, 1.8, 8.15, 2.2)))
	one = measure(t, tr, shut, robot, at(0.02))
	within(t, "one room of four", one.Floor.ReachableM2, reach(8, 3.5), 0.01*28)
}

// A drive along the lower wall, 10 mm off it, wall at the right.
func TestFollowing(t *testing.T) {
	robot := hourRobot() // radius 0.17
	plan := planOf(rect(0, 0, 5, 4), piece("box", rect(2, 2, 3, 3)))
	tr := lifted(
		newPen(0.3, 0.18, 0).drive(3, 0.3, 0).ss,
		newPen(1.755, 2.2, math.Pi/2).drive(0.5, 0.3, 0).ss,           // along the box's left side, it at the right, 75 mm off
		newPen(3.175, 2.8, -math.Pi/2).drive(0.5, 0.3, 0).ss,          // along its right side, 5 mm off, at the right
		newPen(2.9, 3.18, math.Pi+0.35).drive(0.3, 0.3, 0).ss,         // close at first but 20 degrees askew
		newPen(2.9, 1.82, math.Pi).drive(0.6, 0.3, 0).ss,              // below it, 10 mm off, at the right
		newPen(1.5, 0.18+0.01, math.Pi).drive(0.5, 0.3, 0).wait(2).ss) // back along the wall, farther off, wall at the left
	res := measure(t, tr, plan, robot, at(0.01))
	wall, box := res.Edges[0], res.Edges[1]
	within(t, "length of the walls", wall.LengthM, 18, 1e-9)
	within(t, "length of the box", box.LengthM, 4, 1e-9)
	within(t, "wall followed", wall.FollowedM, 3, 0.021)
	within(t, "clearance", wall.ClearanceM, 0.01, 1e-6)
	within(t, "at the right", wall.RightShare, 1, 1e-9)
	within(t, "box followed", box.FollowedM, 1.1, 0.05)
	within(t, "its clearance", box.ClearanceM, 0.01, 1e-6)
	within(t, "share", wall.FollowedShare, wall.FollowedM/18, 1e-12)
	if len(wall.Bands) != 3 || wall.Bands[0].CoveredM2 > 0 {
		t.Errorf("a brush 90 mm from the wall cleaned the band of 25 mm: %+v", wall.Bands)
	}
	within(t, "band of 100 mm", wall.Bands[2].OpenM2, 20-4.8*3.8, 0.01)
	// The brush's end runs 90 mm off the wall: 10 mm of the band's 100.
	within(t, "covered of it", wall.Bands[2].CoveredM2, 3*0.01, 0.01)
}

// Rows over a room, one row left out: one patch in the middle.
func TestMissedPatch(t *testing.T) {
	robot := bar(0.3, 0, 0)
	plan := planOf(rect(0, 0, 3, 3), piece("box", rect(1.2, 0, 1.8, 0.5)))
	var parts [][]geom.Sample
	for _, y := range []float64{0.155, 0.45, 0.75, 1.05, 1.65, 1.95, 2.25, 2.55, 2.845} {
		from, to := 0.16, 2.84
		if y < 0.65 {
			parts = append(parts, newPen(0.16, y, 0).drive(0.88, 0.3, 0).ss)
			from = 1.96
		}
		parts = append(parts, newPen(from, y, 0).drive(to-from, 0.3, 0).ss)
	}
	res := measure(t, lifted(parts...), plan, robot, at(0.005))
	if len(res.Missed) == 0 {
		t.Fatal("nothing missed")
	}
	p := res.Missed[0]
	t.Logf("%d patches, largest %.4f m2 at (%.2f, %.2f) beside %q", len(res.Missed), p.AreaM2, p.X, p.Y, p.Beside)
	// Row y = 1.2 .. 1.5 from x = 0.16 to 2.84, joined with what the brush's ends
	// left at both sides of the room.
	inRing := 0.0
	for _, r := range p.Polygon {
		inRing += signedArea(r)
	}
	within(t, "polygon's area", inRing, p.AreaM2, 0.002*p.AreaM2+0.0005)
	found := false
	for _, q := range res.Missed {
		r := ring(q.Polygon[0])
		if r.contains(geom.Point2{X: 1.5, Y: 1.35}) {
			found = true
			if q.AreaM2 < 0.3*2.68 {
				t.Errorf("the row left out is %.4f m2, want at least %.4f", q.AreaM2, 0.3*2.68)
			}
		}
	}
	if !found {
		t.Error("no patch holds the middle of the row that was left out")
	}
	sum := res.Slivers
	for _, q := range res.Missed {
		sum += q.AreaM2
	}
	by := 0.0
	for _, b := range res.MissedBy {
		by += b.AreaM2
	}
	within(t, "patches and slivers, and places", sum, by, 1e-9)
}

// Two rooms of missed floor and a strip between them are three patches, and with
// no neck to cut by, one. Every cell is in one of them either way.
func TestPatchesAreCutAtNecks(t *testing.T) {
	rows := []string{
		"#######.........#######",
		"#######.........#######",
		"#######.........#######",
		"#######################",
		"#######.........#######",
		"#######.........#######",
		"#######.........#######",
	}
	g := &Grid{Cell: 0.01, Nx: len(rows[0]), Ny: len(rows)}
	mask := make([]bool, g.Nx*g.Ny)
	cells := 0
	for j, row := range rows {
		for i, c := range row {
			if mask[j*g.Nx+i] = c == '#'; c == '#' {
				cells++
			}
		}
	}
	for _, c := range []struct{ r, pieces int }{{0, 1}, {1, 3}, {2, 3}, {5, 1}} {
		pieces, of := patches(g, mask, c.r)
		n := 0
		for _, p := range pieces {
			n += len(p)
		}
		if len(pieces) != c.pieces || n != cells {
			t.Errorf("r = %d: %d patches of %d cells, want %d of %d", c.r, len(pieces), n, c.pieces, cells)
		}
		tr := newTracer(g, of)
		for _, p := range pieces {
			for _, ring := range tr.outline(p) {
				polygon(t, ring...)
			}
		}
	}
}

// What patches lie beside: swept by hand, all but one spot each.
func TestBeside(t *testing.T) {
	plan := planOf(rect(0, 0, 3, 3), piece("box", rect(1.2, 1.2, 1.8, 1.8)))
	top := piece("table", rect(2, 2, 2.6, 2.6))
	plan.Overhead = append(plan.Overhead, top)
	m := &measurer{plan: plan, robot: bar(0.3, 0, 0), opt: DefaultOptions(), room: roomOf(plan, 0.09)}
	m.grid = m.room.openGrid(0.01)
	p := m.newPlacer(0)
	for _, c := range []struct {
		x, y float64
		want string
	}{
		{0.05, 1.5, "wall"}, {0.05, 0.05, "corner"}, {2.95, 2.93, "corner"}, {1.15, 1.5, "box"}, {1.15, 1.15, "box"},
		{2.3, 2.3, "under table"}, {0.6, 0.6, "open floor"}, {1.5, 2.95, "wall"},
	} {
		if got := p.at(geom.Point2{X: c.x, Y: c.y}).name; got != c.want {
			t.Errorf("(%.2f, %.2f) lies beside %q, want %q", c.x, c.y, got, c.want)
		}
	}
}

// Outlines of awkward patches: closed, of the cells' area, holes the other way.
func TestOutlines(t *testing.T) {
	for name, rows := range map[string][]string{
		"one cell": {"#"}, "row": {"####"}, "ring": {"###", "#.#", "###"},
		"diagonal holes": {"#####", "#.###", "##.##", "#####"}, "stairs": {"#...", "##..", "###.", "####"},
		"comb": {"#.#.#", "#####"}, "corner to corner": {"##.", "#.#", "###"},
	} {
		g := &Grid{Cell: 0.01, Nx: len(rows[0]), Ny: len(rows)}
		mask := make([]bool, g.Nx*g.Ny)
		for j, row := range rows {
			for i, c := range row {
				mask[j*g.Nx+i] = c == '#'
			}
		}
		pieces, of := patches(g, mask, 0)
		tr := newTracer(g, of)
		for _, cells := range pieces {
			rings := tr.outline(cells)
			area, cell := 0.0, g.Cell*g.Cell
			for n, r := range rings {
				a := signedArea(r)
				if (a > 0) != (n == 0) {
					t.Errorf("%s: ring %d has area %g", name, n, a)
				}
				area += a
				polygon(t, r...) // valid to an outside library
			}
			if want := float64(len(cells)) * cell; math.Abs(area-want) > 1.5*cell*float64(len(rings)) {
				t.Errorf("%s: outline of %g cells holds %g", name, want/cell, area/cell)
			}
		}
	}
}

// Areas: a rug crossed, a keep-out area grazed.
func TestAreas(t *testing.T) {
	plan := planOf(rect(0, 0, 4, 3))
	rug := piece("rug", rect(1, 1, 2, 2))
	rug.Kind = geom.AreaSurface
	no := piece("nursery", rect(3, 0, 4, 3))
	no.Kind = geom.AreaOffLimits
	never := piece("corner", rect(0, 2.7, 0.3, 3))
	never.Kind = geom.AreaOffLimits
	plan.Areas = []geom.Piece{rug, no, never}
	robot := bar(0.2, 0, 0) // radius 0.15
	tr := newPen(0.5, 1.5, 0).drive(2.4, 0.3, 0).trace()
	res := measure(t, tr, plan, robot, at(0.005))
	a, k, c := res.Areas[0], res.Areas[1], res.Areas[2]
	within(t, "rug", a.OpenM2, 1, 1e-6)
	within(t, "rug covered", a.CoveredShare, 0.2, 1e-6)
	within(t, "time on it", a.TimeS, 1/0.3, 0.05)
	within(t, "speed on it", a.MeanSpeedMPS, 0.3, 1e-9)
	if !math.IsNaN(a.EnteredM2) {
		t.Errorf("a rug was entered: %g m2", a.EnteredM2)
	}
	// The body's front comes to 2.9 + 0.15 m.
	within(t, "depth", k.DepthM, 0.05, 1e-6)
	within(t, "seconds", k.EnteredS, 0.05/0.3, 0.05)
	seg := 0.15*0.15*math.Acos(0.1/0.15) - 0.1*math.Sqrt(0.15*0.15-0.01)
	within(t, "entered", k.EnteredM2, seg, 0.06*seg)
	if c.EnteredM2 != 0 || c.DepthM != 0 || c.EnteredS != 0 {
		t.Errorf("an area that the robot kept out of was entered: %+v", c)
	}
}

// While the robot was lost it may have swept what it could have driven over.
func TestUnknownFloor(t *testing.T) {
	robot := bar(0.2, 0, 0)
	plan := planOf(rect(0, 0, 5, 3))
	a, b := newPen(1, 1.5, 0).drive(1, 0.3, 0).ss, newPen(3, 1.5, 0).drive(1, 0.3, 0).ss
	for i := range b {
		b[i].T += a[len(a)-1].T + 1/0.3
	}
	gap := geom.Sample{T: a[len(a)-1].T + 1, X: math.NaN(), Y: math.NaN(), Heading: math.NaN(), State: geom.Lost}
	opt := at(0.01)
	opt.LostSpeed = 0.36
	tr := traceOf(append(append(append([]geom.Sample{}, a...), gap), b...))
	res := measure(t, tr, plan, robot, opt)
	// Foci 1 m apart, sum of distances 1.2 + 2 x 0.1 (computed from the ellipse,
	// less the strips swept at both ends of it).
	if res.Floor.UnknownM2 < 0.2 || res.Floor.UnknownM2 > math.Pi*0.7*math.Sqrt(0.49-0.25) {
		t.Errorf("unknown floor %.4f m2", res.Floor.UnknownM2)
	}
	c := res.Coverage
	within(t, "if swept", c.IfSwept.CoveredShare, c.CoveredShare+res.Floor.UnknownM2/15, 1e-9)
	within(t, "if not", c.IfNot.CoveredShare, c.CoveredShare, 0)
	within(t, "covered", c.CoveredM2, 0.4, 0.01)
	within(t, "distance", res.Motion.DistanceM, 2, 1e-9)

	// Never lost, everything seen: nothing is unknown.
	opt.Unseen = func(geom.Point2) bool { return false }
	res = measure(t, traceOf(a), plan, robot, opt)
	if res.Floor.UnknownM2 != 0 || res.Floor.UnseenM2 != 0 {
		t.Errorf("unknown %g, unseen %g m2", res.Floor.UnknownM2, res.Floor.UnseenM2)
	}
	opt.Unseen = func(p geom.Point2) bool { return p.X > 4 }
	res = measure(t, traceOf(a), plan, robot, opt)
	within(t, "unseen", res.Floor.UnseenM2, 3, 1e-9)
	if res.Floor.UnknownM2 <= 2.5 || res.Floor.UnknownM2 >= 3 {
		t.Errorf("unknown %g m2 of the 3 that the camera does not see", res.Floor.UnknownM2)
	}
}

// A straight drive's share grows with the width in proportion.
func TestWiderAndNarrower(t *testing.T) {
	opt := DefaultOptions()
	res := measure(t, newPen(0.5, 1.502, 0.1).drive(3, 0.3, 0).trace(), planOf(rect(0, 0, 5, 3)), bar(0.2, 0, 0), opt)
	c := res.Coverage
	within(t, "covered", c.CoveredShare, 0.6/15, 1e-4)
	within(t, "5 mm wider", c.Wider.CoveredShare, 0.615/15, 1e-4)
	within(t, "5 mm narrower", c.Narrower.CoveredShare, 0.585/15, 1e-4)
	if c.RasterShare <= 0 || c.RasterShare > 0.001 {
		t.Errorf("raster's uncertainty %g", c.RasterShare)
	}
}

// A stretch with the tool off sweeps nothing, and its distance counts.
func TestToolOff(t *testing.T) {
	opt := at(0.005)
	opt.ToolOff = []geom.Span{{From: 2, To: 5}}
	res := measure(t, newPen(0.5, 1.502, 0.1).drive(3, 0.3, 0).trace(), planOf(rect(0, 0, 5, 3)), bar(0.2, 0, 0), opt)
	within(t, "covered", res.Coverage.CoveredM2, 0.7*0.6, 0.001)
	within(t, "distance", res.Motion.DistanceM, 3, 1e-9)
}

// Perfect lanes stand at 1 between the laws of search theory, repeated ones lower.
func TestEconomy(t *testing.T) {
	for _, c := range []struct{ effort, share, want float64 }{
		{0.5, 0.5, 1}, {0.5, 0.393469, 0}, {1, 0.816, 0.5}, {3, 0.950213, 0}, {2, 0.864665, 0},
	} {
		e := economyOf(c.effort*10, 10, c.share)
		within(t, "between", e.LaneEfficiency, c.want, 1e-3)
	}
	// Koopman's law, values computed from 1 - exp(-c).
	for c, want := range map[float64]float64{0.25: 0.221199, 0.5: 0.393469, 1: 0.632121, 1.5: 0.776870, 2: 0.864665, 3: 0.950213, 4: 0.981684} {
		within(t, "random search", RandomSearch(c), want, 1e-6)
		within(t, "perfect lanes", PerfectLanes(c), math.Min(1, c), 1e-12)
	}
	if e := economyOf(0.01, 10, 0.001); !math.IsNaN(e.LaneEfficiency) {
		t.Errorf("a hardly begun run lies at %g between the laws", e.LaneEfficiency)
	}
}

// What the intervals swept adds up to the run.
func TestStepsAddUp(t *testing.T) {
	tr, _ := mapleTrace(t, "../testdata/maple/truth/cluttered/siskin_mapping_1")
	res := measure(t, tr, maplePlan(), mapleRobot(), at(0.005))
	var sum Step
	for _, s := range res.Steps {
		sum.NewM2 += s.NewM2
		sum.PassM2 += s.PassM2
		sum.DistanceM += s.DistanceM
	}
	within(t, "new floor", sum.NewM2, res.Coverage.CoveredM2, 1e-9)
	within(t, "swept", sum.PassM2, res.Coverage.SweptM2, 1e-9)
	within(t, "distance", sum.DistanceM, res.Motion.DistanceM, 1e-9)
	last := res.Curve[len(res.Curve)-1]
	within(t, "curve's end", last.CoveredShare, res.Coverage.CoveredShare, 1e-9)
	within(t, "its time", last.T, tr.Run.To, 1e-9)
}

func TestDwell(t *testing.T) {
	opt := at(0.01)
	opt.Dwell = true
	robot := bar(0.2, 0, 0) // radius 0.15
	res := measure(t, newPen(1, 1, 0).wait(10).drive(1, 0.3, 0).trace(), planOf(rect(0, 0, 3, 2)), robot, opt)
	g := res.Grid
	within(t, "where it stood", float64(g.Dwell[g.Index(geom.Point2{X: 0.9, Y: 1})]), 10+0.05/0.3, 0.1)
	within(t, "on its way", float64(g.Dwell[g.Index(geom.Point2{X: 1.5, Y: 1})]), 1, 0.1) // 0.3 m long at 0.3 m/s
	within(t, "elsewhere", float64(g.Dwell[g.Index(geom.Point2{X: 0.5, Y: 1.5})]), 0, 0)
	sum := 0.0
	for _, d := range g.Dwell {
		sum += float64(d) * 1e-4
	}
	within(t, "floor x time", sum, math.Pi*0.0225*(10+1/0.3), 0.02)
}

// Other tools and side brushes get blocks of their own.
func TestOtherTools(t *testing.T) {
	robot := bar(0.2, 0, 0)
	robot.Tools = append(robot.Tools, geom.Tool{Name: "pad", Width: 0.24, Ahead: -0.05})
	robot.SideBrushes = []geom.SideBrush{{Ahead: 0.1, Left: -0.1, Reach: 0.08}}
	res := measure(t, newPen(0.5, 1.502, 0.1).drive(3, 0.3, 0).trace(), planOf(rect(0, 0, 5, 3)), robot, at(0.005))
	within(t, "pad", res.OtherTools["pad"].CoveredM2, 0.72, 0.002)
	// The brush adds 0.08 m at the right, and a half disc at the front end that
	// the line, 0.1 m behind, has not come to; a quarter at the rear end.
	c := res.OtherTools[WithSideBrushes]
	if c.CoveredM2 < 0.6+3*0.08 || c.CoveredM2 > 0.6+3*0.08+0.1*0.16+math.Pi*0.08*0.08 {
		t.Errorf("with the side brush %.4f m2", c.CoveredM2)
	}
	if c.Redundancy > 0.001 {
		t.Errorf("a straight drive with a side brush has redundancy %g", c.Redundancy)
	}
	if c.ReachableM2 <= res.Coverage.ReachableM2 {
		t.Errorf("the side brush reaches %g m2, the brush alone %g", c.ReachableM2, res.Coverage.ReachableM2)
	}
}

// Overhead things lower than the robot are obstacles; higher ones are floor.
func TestLowOverhead(t *testing.T) {
	for _, c := range []struct{ height, open float64 }{{0.05, 11}, {0.5, 12}} {
		plan := planOf(rect(0, 0, 4, 3))
		shelf := piece("shelf", rect(1, 1, 2, 2))
		shelf.Height = c.height
		plan.Overhead = []geom.Piece{shelf}
		res := measure(t, newPen(0.5, 0.5, 0).drive(1, 0.3, 0).trace(), plan, bar(0.2, 0, 0), at(0.01))
		within(t, "open", res.Floor.OpenM2, c.open, 1e-9)
	}
}

// A start against the wall takes the nearest free placement; one in an obstacle
// leaves the reach unknown, with a reason.
func TestStartAgainstTheWall(t *testing.T) {
	plan := planOf(rect(0, 0, 4, 3), piece("box", rect(1, 1, 3, 2.5)))
	ok := measure(t, newPen(0.12, 0.14, 0).drive(1, 0.3, 0).trace(), plan, bar(0.2, 0, 0), at(0.01))
	if math.IsNaN(ok.Floor.ReachableM2) {
		t.Errorf("no reach from 30 mm inside the wall's reach: %v", ok.Warnings)
	}
	bad := measure(t, newPen(2, 1.7, 0).drive(1, 0.3, 0).trace(), plan, bar(0.2, 0, 0), at(0.01))
	if !math.IsNaN(bad.Floor.ReachableM2) || !math.IsNaN(bad.Coverage.ReachableShare) || bad.Missed != nil || len(bad.Warnings) == 0 {
		t.Errorf("start inside the box: reach %g, missed %v, warnings %v", bad.Floor.ReachableM2, bad.Missed, bad.Warnings)
	}
}
