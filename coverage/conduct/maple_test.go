package conduct

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"swathe/geom"
)

// The paths under testdata/maple were drawn by a program that is no part of
// this project (testdata/README.md); its truth.json says when the robot spun.
func TestMapleSpin(t *testing.T) {
	plan, err := geom.NewPlan(geom.PlanSpec{Name: "cluttered", Room: corners(0, 0, 3.2, 2.4), Obstacles: []geom.Piece{ring("cabinet", 0.5, corners(0, 1.8, 0.9, 2.4)), ring("stool", 0.35, corners(2.2, 0.7, 2.45, 0.95))}, Overhead: []geom.Piece{ring("tabletop", 0.55, corners(1.3, 1.25, 1.6, 1.55))}})

	if err != nil {
		t.Fatal(err)
	}
	robot := geom.Robot{Name: "siskin", Diameter: 0.32, Height: 0.09, Tools: []geom.Tool{{Name: "brush", Width: 0.16, Ahead: 0.03}}}
	dirs, _ := filepath.Glob("../../testdata/maple/truth/cluttered/*")
	if len(dirs) < 3 {
		t.Fatalf("testdata/maple has %d true paths, want at least 3", len(dirs))
	}
	for _, dir := range dirs {
		t.Run(filepath.Base(dir), func(t *testing.T) {
			var truth struct {
				Run struct {
					From float64 `json:"start_s"`
					To   float64 `json:"end_s"`
				}
				Events []struct {
					Kind string
					T    float64
					End  float64
					Turn float64 `json:"turn_deg"`
					X, Y float64
				}
			}
			raw, err := os.ReadFile(filepath.Join(dir, "truth.json"))
			if err != nil {
				t.Fatal(err)
			}
			if err := json.Unmarshal(raw, &truth); err != nil {
				t.Fatal(err)
			}
			f, err := os.Open(filepath.Join(dir, "trace.csv"))
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			rows, err := csv.NewReader(f).ReadAll()
			if err != nil {
				t.Fatal(err)
			}
			p := newPen(0, 0, 0, 41)
			p.ss = nil
			for _, row := range rows[1:] {
				var v [4]float64
				for i := range v {
					if v[i], err = strconv.ParseFloat(row[i], 64); err != nil {
						t.Fatal(err)
					}
				}
				p.ss = append(p.ss, geom.Sample{T: v[0], X: v[1], Y: v[2], Heading: v[3], Source: geom.HeadingTexture})
			}
			tr := p.trace()
			tr.Run = geom.Span{From: truth.Run.From, To: truth.Run.To}
			res, cov := find(t, tr, plan, robot)
			checkSum(t, res, cov)
			for _, e := range res.Events {
				t.Logf("%-8s %.1f-%.1f %s", e.Kind, e.Start, e.End, e)
			}
			for _, e := range res.Ledger.Entries {
				t.Logf("%-26s %7.2f s %6.2f m %6.3f m2 new %6.3f m2 again", e.Name, e.TimeS, e.DistanceM, e.NewM2, e.AgainM2)
			}
			// It follows the room's walls at 40 mm, where no row runs: that time is
			// the time along edges, besides a little at the cabinet and about corners.
			walls := alongWalls(p.ss, robot.Radius())
			edges := res.Ledger.Get("along edges").TimeS + res.Ledger.Get("around obstacles").TimeS
			t.Logf("%.1f s along the walls by the true path, %.1f s told as along edges and around obstacles", walls, edges)
			if walls < 5 || edges < 0.9*walls || edges > 1.8*walls+3 {
				t.Errorf("%.1f s along edges and around obstacles, the true path runs %.1f s along the walls", edges, walls)
			}
			t.Logf("pattern %s, rows %.1f of %.1f m", res.Rows.Pattern, res.Rows.RowsM, cov.Motion.DistanceM)
			for _, b := range res.Rows.Blocks {
				t.Logf("%d lanes from %.0f to %.0f s at %.1f degrees, %.0f mm apart, new %.2f", b.Lanes, b.Start, b.End, geom.Degrees(b.Direction), b.SpacingM*1000, b.NewShare)
			}
			found := of(res, Spin)
			n := 0
			for _, w := range truth.Events {
				if w.Kind != Spin {
					continue
				}
				n++
				if len(found) < n {
					t.Fatalf("%d spins found, want more", len(found))
				}
				e := found[n-1]
				within(t, "start", e.Start, w.T, startTol)
				within(t, "end", e.End, w.End, startTol)
				within(t, "place", math.Hypot(e.X-w.X, e.Y-w.Y), 0, placeTol)
				within(t, "turn", e.Figures["turn_deg"], w.Turn, 5*math.Abs(w.Turn)/360)
			}
			if len(found) != n {
				t.Errorf("%d spins found, want %d", len(found), n)
			}
			for _, kind := range []string{Stuck, Swerve, EdgeRetry} {
				for _, e := range of(res, kind) {
					t.Errorf("false %s: %s", kind, e)
				}
			}
		})
	}
}

// alongWalls returns for how long a path runs along the walls of maple's room,
// 20 to 60 mm from the body.
func alongWalls(ss []geom.Sample, radius float64) float64 {
	sum := 0.0
	for i := 1; i < len(ss); i++ {
		a, b := ss[i-1], ss[i]
		dx, dy := math.Abs(b.X-a.X), math.Abs(b.Y-a.Y)
		near := func(c float64) bool { return c-radius > 0.02 && c-radius < 0.06 }
		if dx+dy > 0.05*(b.T-a.T) && (dx < 0.1*dy && (near(b.X) || near(3.2-b.X)) || dy < 0.1*dx && (near(b.Y) || near(2.4-b.Y))) {
			sum += b.T - a.T
		}
	}
	return sum
}
