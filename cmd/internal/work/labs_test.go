package work

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"testing"
	"time"

	"swathe/cmd/internal/lab"
	"swathe/coverage"
	"swathe/geom"
	"swathe/track"
)

// TestLabs measures labs whose truth is known and prints one row a lab: for
// whoever changes the seeing. SWATHE_LABS is a pattern of their folders, each
// with truth/<layout>/<run>/trace.csv and truth.json. It holds nothing to a bound.
func TestLabs(t *testing.T) {
	pattern := os.Getenv("SWATHE_LABS")
	eye := os.Getenv("SWATHE_EYE")
	if pattern == "" || eye == "" {
		t.Skip("SWATHE_LABS names no labs, or SWATHE_EYE no eye")
	}
	dirs, err := filepath.Glob(pattern)
	if err != nil || len(dirs) == 0 {
		t.Fatalf("no lab is called %s (%v)", pattern, err)
	}
	var pool scatter
	t.Logf("%-12s %6s %6s %6s %6s %6s %6s %6s %6s %6s %6s %6s %5s %5s", "lab", "px mm", "RMS", "95 %", "max", "lost", "brdg", "carr", "share", "head", "start", "end", "1 s", "2 s")
	for _, dir := range dirs {
		r, err := judgeLab(t, eye, dir)
		if err != nil {
			t.Logf("%-12s %v", filepath.Base(dir), err)
			continue
		}
		pool.add(r.scatter)
		t.Logf("%-12s %6.1f %6.2f %6.1f %6.1f %6.3f %6.3f %6.3f %+6.2f %6.1f %+6.2f %+6.2f %5.2f %5.2f  turn %.1f, %.0f s", filepath.Base(dir),
			1e3*r.pixel, 1e3*r.rms(), 1e3*r.quantile(0.95), 1e3*r.quantile(1), r.lost, r.bridged, r.carried, 100*r.share, r.heading, r.start, r.end,
			r.within(1), r.within(2), r.headingMax, r.seconds)
	}
	t.Logf("pooled: %.3f of the coordinates within half a sigma, %.3f within one, %.3f within two", pool.within(0.5), pool.within(1), pool.within(2))
}

// scatter gathers errors of places, m, and of their coordinates in sigmas.
type scatter struct{ off, ratio []float64 }

func (s *scatter) add(o scatter) {
	s.off, s.ratio = append(s.off, o.off...), append(s.ratio, o.ratio...)
}

func (s *scatter) rms() float64 {
	q := 0.0
	for _, e := range s.off {
		q += e * e
	}
	return math.Sqrt(q / float64(len(s.off)))
}

func (s *scatter) quantile(p float64) float64 {
	if len(s.off) == 0 {
		return math.NaN()
	}
	sort.Float64s(s.off)
	return s.off[int(p*float64(len(s.off)-1))]
}

func (s *scatter) within(sigmas float64) float64 {
	n := 0.0
	for _, r := range s.ratio {
		if r <= sigmas {
			n++
		}
	}
	return n / float64(len(s.ratio))
}

type labRow struct {
	scatter
	pixel                  float64 // m, of the floor
	lost, bridged, carried float64 // shares of the frames looked at
	share                  float64 // covered share, measured less true
	heading, headingMax    float64 // degrees, RMS and most while it moves
	start, end             float64 // s
	seconds                float64
}

func judgeLab(t *testing.T, eye, folder string) (*labRow, error) {
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS(folder)); err != nil {
		return nil, err
	}
	l, err := lab.Open(dir)
	if err != nil {
		return nil, err
	}
	items, err := List(l, nil)
	if err != nil {
		return nil, err
	}
	if len(items) != 1 || items[0].Refusal != nil {
		return nil, errors.New("a lab of one recording is wanted")
	}
	run := items[0].Run
	layout, robot := l.Layouts[run.Layout], l.Robots[run.Robot]
	sol, err := l.Solve(l.CameraOf(run), nil)
	if err != nil {
		return nil, err
	}
	job := track.Job{Files: run.Files, Gaps: run.Gaps(), Start: run.Notes.Start, End: run.Notes.End, Plan: layout.Plan, Robot: robot.Robot,
		Camera: sol.Camera, CameraSigma: sol.FloorSigma}
	opt := l.Settings.Coverage
	if opt.Unseen, err = unseen(job.Camera, job.Plan); err != nil {
		return nil, err
	}
	begun := time.Now()
	look := track.DefaultOptions()
	look.Limit = 10 * time.Minute // the machine may be busy
	res, err := track.Measure(context.Background(), eye, job, look, nil)
	if err != nil {
		return nil, err
	}
	seconds := time.Since(begun).Seconds()
	cov, err := coverage.Measure(res.Trace, layout.Plan, robot.Robot, opt)
	if err != nil {
		return nil, err
	}
	truth := filepath.Join(dir, "truth", run.Layout, run.Robot+"_"+string(run.Phase)+"_"+strconv.Itoa(run.Trial))
	at, err := truePath(filepath.Join(truth, "trace.csv"))
	if err != nil {
		return nil, err
	}
	raw, err := os.ReadFile(filepath.Join(truth, "truth.json"))
	if err != nil {
		return nil, err
	}
	var want struct {
		CoveredShare float64 `json:"covered_share"`
		Run          struct {
			Start float64 `json:"start_s"`
			End   float64 `json:"end_s"`
		} `json:"run"`
	}
	if err := json.Unmarshal(raw, &want); err != nil {
		return nil, err
	}
	tr := res.Trace
	r := &labRow{seconds: seconds, pixel: job.Camera.PixelSize(geom.Point3{X: tr.Samples[len(tr.Samples)/2].X, Y: tr.Samples[len(tr.Samples)/2].Y})}
	if math.IsNaN(r.pixel) {
		lo, hi := layout.Plan.Bounds()
		r.pixel = job.Camera.PixelSize(geom.Point3{X: (lo.X + hi.X) / 2, Y: (lo.Y + hi.Y) / 2})
	}
	var qh, nh float64
	told := false
	worst := os.Getenv("SWATHE_WORST") != ""
	for _, s := range tr.Samples {
		x, y, h, moves := at.at(s.T)
		n := 1 / float64(len(tr.Samples))
		switch s.State {
		case geom.Lost:
			r.lost += n
			continue
		case geom.Carried:
			r.carried += n
			continue
		case geom.Bridged:
			r.bridged += n
		}
		told = told || s.Source == geom.HeadingTexture || s.Source == geom.HeadingMarker
		e := math.Hypot(s.X-x, s.Y-y)
		r.off = append(r.off, e)
		if s.State == geom.Seen {
			r.ratio = append(r.ratio, math.Abs(s.X-x)/s.Sigma, math.Abs(s.Y-y)/s.Sigma)
		}
		d := geom.Degrees(geom.WrapAngle(s.Heading - h))
		if worst {
			t.Logf("%s %7.2f %s %8.4f %8.4f off %+6.1f %+6.1f sigma %.1f heading %.1f off %+.1f (%.1f) %v", filepath.Base(folder), s.T, s.State, s.X, s.Y, 1e3*(s.X-x), 1e3*(s.Y-y), 1e3*s.Sigma, geom.Degrees(s.Heading), d, geom.Degrees(s.SigmaH), s.Source)
		}
		if moves && !math.IsNaN(d) {
			qh += d * d
			nh++
			r.headingMax = math.Max(r.headingMax, math.Abs(d))
		}
	}
	r.heading = math.Sqrt(qh / nh)
	r.share = cov.Coverage.CoveredShare - want.CoveredShare
	if radius := robot.Robot.Radius() / r.pixel; radius < turnsFrom && !told {
		want.Run.Start, want.Run.End = at.moves()
	}
	r.start, r.end = tr.Run.From-want.Run.Start, tr.Run.To-want.Run.End
	return r, nil
}

// turnsFrom is the radius, px, below which nobody is asked to see a turn on the
// spot: where no heading is from the top either, a run counts from the first
// move of the centre to the last.
const turnsFrom = 25

// truth is where a robot was: t_s, x_m, y_m, heading_rad.
type truth [][4]float64

func truePath(file string) (truth, error) {
	fh, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer fh.Close()
	rows, err := csv.NewReader(fh).ReadAll()
	if err != nil {
		return nil, err
	}
	var at truth
	for _, r := range rows[1:] {
		var v [4]float64
		for i := range v {
			if v[i], err = strconv.ParseFloat(r[i], 64); err != nil {
				return nil, err
			}
		}
		at = append(at, v)
	}
	return at, nil
}

// at is the pose at a time, and whether the centre moves by more than 2 cm/s.
func (p truth) at(t float64) (x, y, h float64, moves bool) {
	i := min(max(1, sort.Search(len(p), func(i int) bool { return p[i][0] >= t })), len(p)-1)
	a, b := p[i-1], p[i]
	u := math.Max(0, math.Min(1, (t-a[0])/(b[0]-a[0])))
	return a[1] + u*(b[1]-a[1]), a[2] + u*(b[2]-a[2]), a[3] + u*geom.WrapAngle(b[3]-a[3]),
		math.Hypot(b[1]-a[1], b[2]-a[2]) > 0.02*(b[0]-a[0]) && t > a[0]
}

// moves is when the centre first moves and when it last does.
func (p truth) moves() (from, to float64) {
	step := func(i int) bool { return math.Hypot(p[i][1]-p[i-1][1], p[i][2]-p[i-1][2]) > 1e-4 }
	for i := len(p) - 1; i > 0; i-- {
		if step(i) {
			from = p[i-1][0]
			if to == 0 {
				to = p[i][0]
			}
		}
	}
	return from, to
}
