package coverage

import (
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"syscall"
	"testing"

	sf "github.com/peterstace/simplefeatures/geom"

	"swathe/geom"
)

// An hour at 30 frames a second in a room of 20 m2: rows up and down, a turn on
// the spot at each end, over and over at changing angles. 108,000 poses.
const (
	hourPoses = 108000
	hourSpeed = 0.3
	hourDt    = 1.0 / 30
)

func hourRobot() geom.Robot {
	return geom.Robot{Name: "bench", Diameter: 0.34, Height: 0.09, Tools: []geom.Tool{{Name: "brush", Width: 0.18, Ahead: 0.02}}}
}

func hourPlan() *geom.Plan { return planOf(rect(0, 0, 5, 4)) }

// rowsTrace drives n poses of rows in a w x h room: it bounces between the
// walls along rows, and takes the rows the other way once the room is done.
func rowsTrace(n int, w, h float64) *geom.Trace {
	const inset, pitch = 0.18, 0.15
	ss := make([]geom.Sample, 0, n)
	x, y, t := inset, inset, 0.0
	head := 0.0
	add := func() {
		ss = append(ss, geom.Sample{T: t, X: x, Y: y, Heading: head})
		t += hourDt
	}
	turnTo := func(to float64) {
		for math.Abs(to-head) > 1e-9 && len(ss) < n {
			head += math.Max(-0.07, math.Min(0.07, to-head))
			add()
		}
	}
	goTo := func(tx, ty float64) {
		for len(ss) < n {
			d := math.Hypot(tx-x, ty-y)
			if d < 1e-9 {
				return
			}
			u := math.Min(1, hourSpeed*hourDt/d)
			x, y = x+u*(tx-x), y+u*(ty-y)
			add()
		}
	}
	add()
	for len(ss) < n {
		for along := 0; along < 2 && len(ss) < n; along++ {
			lim, other := w, h
			if along == 1 {
				lim, other = h, w
			}
			for row := inset; row <= other-inset && len(ss) < n; row += 2 * pitch {
				for k, to := range []float64{lim - inset, inset} {
					r := math.Min(row+float64(k)*pitch, other-inset)
					a := math.Pi * float64(k)
					if along == 0 {
						turnTo(math.Pi / 2)
						goTo(x, r)
						turnTo(a)
						goTo(to, r)
					} else {
						turnTo(0)
						goTo(r, y)
						turnTo(math.Pi/2 + a)
						goTo(r, to)
					}
				}
			}
		}
	}
	return traceOf(ss)
}

// turned drives the same path in the same room turned by a.
func turnTrace(tr *geom.Trace, a float64) *geom.Trace {
	ss := make([]geom.Sample, len(tr.Samples))
	for i, s := range tr.Samples {
		p := geom.Pose{Heading: a}.At(geom.Point2{X: s.X, Y: s.Y})
		s.X, s.Y, s.Heading = p.X, p.Y, s.Heading+a
		ss[i] = s
	}
	return traceOf(ss)
}

// shakyTrace drives the same path as seen by a camera: off by half a millimetre
// and half a degree, slowly, as smoothing leaves it.
func shakyTrace(tr *geom.Trace) *geom.Trace {
	ss := make([]geom.Sample, len(tr.Samples))
	for i, s := range tr.Samples {
		s.X += 0.0005 * math.Sin(5.1*s.T)
		s.Y += 0.0005 * math.Sin(6.7*s.T+1)
		s.Heading += geom.Radians(0.5) * math.Sin(4.3*s.T+2)
		ss[i] = s
	}
	return traceOf(ss)
}

// cpuSeconds returns the processor time that the benchmark has used, which a busy
// machine stretches less than the clock's.
func cpuSeconds(b *testing.B) float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return float64(u.Utime.Sec+u.Stime.Sec) + float64(u.Utime.Usec+u.Stime.Usec)/1e6
}

// BenchmarkSweep sweeps the hour, passes counted, from its samples and an empty
// floor: again=yes in the memory of the time before, as a Monte Carlo does.
func BenchmarkSweep(b *testing.B) {
	for _, c := range []struct {
		name  string
		turn  float64
		shaky bool
	}{{"path=straight", 0, false}, {"path=askew", 0.4, false}, {"path=shaky", 0, true}} {
		plan := planOf(turnRing(rect(0, 0, 5, 4), c.turn))
		tr := turnTrace(rowsTrace(hourPoses, 5, 4), c.turn)
		if c.shaky {
			tr = shakyTrace(tr)
		}
		g := roomOf(plan, 0.09).openGrid(0.005)
		robot := hourRobot()
		var pts []point
		var s *sweeper
		for _, again := range []string{"no", "yes"} {
			b.Run("hour/room=20m2/cell=5mm/"+c.name+"/again="+again, func(b *testing.B) {
				b.ReportAllocs()
				cpu := cpuSeconds(b)
				for i := 0; i < b.N; i++ {
					if again == "no" || s == nil {
						pts, s = nil, newSweeper(g, robot.Radius())
					}
					s.reset()
					pts = pathInto(pts, tr, nil)
					s.run(pts, robot.Tools[0], nil, nil)
				}
				b.ReportMetric((cpuSeconds(b)-cpu)*1e9/float64(b.N)/float64(len(tr.Samples)), "cpu-ns/pose")
			})
		}
	}
}

// BenchmarkSweepPoses shows that the cost is linear in the path's length.
func BenchmarkSweepPoses(b *testing.B) {
	for _, n := range []int{hourPoses / 8, hourPoses / 4, hourPoses / 2, hourPoses} {
		b.Run(fmt.Sprintf("poses=%d", n), func(b *testing.B) {
			s := newSweeper(roomOf(hourPlan(), 0.09).openGrid(0.005), 0.17)
			pts := pathOf(rowsTrace(n, 5, 4), nil)
			b.ResetTimer()
			for i := 0; i < b.N; i++ {
				s.run(pts, hourRobot().Tools[0], nil, nil)
			}
		})
	}
}

// BenchmarkSweepRoom shows that it hardly depends on the room.
func BenchmarkSweepRoom(b *testing.B) {
	for _, side := range []float64{5, 10, 20} {
		b.Run(fmt.Sprintf("room=%.0fm2", side*side), func(b *testing.B) {
			s := newSweeper(roomOf(planOf(rect(0, 0, side, side)), 0.09).openGrid(0.005), 0.17)
			pts := pathOf(rowsTrace(hourPoses, 5, 4), nil)
			b.ResetTimer()
			for i := 0; i < b.N; i++ {
				s.run(pts, hourRobot().Tools[0], nil, nil)
			}
		})
	}
}

// BenchmarkMeasure is everything that Measure does for the hour.
func BenchmarkMeasure(b *testing.B) {
	tr, plan, robot := rowsTrace(hourPoses, 5, 4), hourPlan(), hourRobot()
	b.ReportAllocs()
	for i := 0; i < b.N; i++ {
		if _, err := Measure(tr, plan, robot, DefaultOptions()); err != nil {
			b.Fatal(err)
		}
	}
}

func turnRing(pts [][2]float64, a float64) [][2]float64 {
	for i, p := range pts {
		q := geom.Pose{Heading: a}.At(geom.Point2{X: p[0], Y: p[1]})
		pts[i] = [2]float64{q.X, q.Y}
	}
	return pts
}

// BenchmarkExactUnion joins the swept quadrilaterals exactly by an outside
// library, for a twentieth of the hour: its cost per pose only grows with more.
func BenchmarkExactUnion(b *testing.B) {
	tr := rowsTrace(hourPoses/20, 5, 4)
	tool := hourRobot().Tools[0]
	cpu := cpuSeconds(b)
	for i := 0; i < b.N; i++ {
		var parts []sf.Geometry
		for k := 1; k < len(tr.Samples); k++ {
			parts = append(parts, sweptPolygons(b, tr.Samples[k-1].Pose(), tr.Samples[k].Pose(), tool)...)
		}
		if u := unionOf(b, parts); u.Area() < 1 {
			b.Fatalf("the union holds %g m2", u.Area())
		}
	}
	b.ReportMetric((cpuSeconds(b)-cpu)*1e9/float64(b.N)/float64(len(tr.Samples)), "cpu-ns/pose")
}

// TestWriteHourQuads writes the quadrilaterals of BenchmarkSweep's hour, in cells,
// to the file that SWATHE_QUADS names, for track/cv's benchmark of OpenCV on the
// same ones: little-endian float64, x and y of four corners each.
func TestWriteHourQuads(t *testing.T) {
	name := os.Getenv("SWATHE_QUADS")
	if name == "" {
		t.Skip("SWATHE_QUADS names no file to write")
	}
	s := newSweeper(roomOf(hourPlan(), 0.09).openGrid(0.005), 0.17)
	pts := pathOf(rowsTrace(hourPoses, 5, 4), nil)
	out := make([]byte, 0, 64*len(pts))
	put := func(p spot) {
		out = binary.LittleEndian.AppendUint64(out, math.Float64bits(p.x))
		out = binary.LittleEndian.AppendUint64(out, math.Float64bits(p.y))
	}
	line := func(p point) (a, b spot) {
		sin, cos := math.Sincos(p.h)
		return s.line(hourRobot().Tools[0], p.x, p.y, sin, cos)
	}
	for k := 1; k < len(pts); k++ {
		a, b := line(pts[k-1])
		c, d := line(pts[k])
		put(a)
		put(b)
		put(d)
		put(c)
	}
	if err := os.WriteFile(name, out, 0o644); err != nil {
		t.Fatal(err)
	}
}
