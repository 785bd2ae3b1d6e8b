package doubt

import (
	"math"
	"math/rand"
	"reflect"
	"testing"

	"swathe/coverage"
	"swathe/geom"
)

func measure(t testing.TB, in Input, opt Options) *Result {
	t.Helper()
	r, err := Measure(in, opt)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func quick() Options {
	o := DefaultOptions()
	o.Draws, o.BudgetDraws, o.Cell = 80, 20, 0.03
	return o
}

// The same seed gives the same figures, whatever the number of workers, and
// another seed others that agree within their noise.
func TestRepeatable(t *testing.T) {
	in := testInput(t, rows(10, 0.15, 150), testCamera(t))
	o := quick()
	a := measure(t, in, o)
	o.Workers = 3
	if b := measure(t, in, o); !reflect.DeepEqual(plain(a), plain(b)) {
		t.Error("three workers give other figures than two")
	}
	o.Seed = 2
	c := measure(t, in, o)
	ua, uc := a.Headline(in.Result)["covered_share"].U, c.Headline(in.Result)["covered_share"].U
	t.Logf("u of the covered share: %.5f with seed 1, %.5f with seed 2", ua, uc)
	if ua == uc || math.Abs(ua-uc) > 0.5*ua {
		t.Errorf("u of the covered share: %g and %g", ua, uc)
	}
}

// A path that states no uncertainty is measured as one that states 5 mm and 0.02 rad:
// the default of the setting path_sigma.
func TestPathWithoutSigma(t *testing.T) {
	figures := func(sigma, heading float64) map[string]float64 {
		path := rows(10, 0.15, 60)
		for i := range path.Samples {
			path.Samples[i].Sigma, path.Samples[i].SigmaH = sigma, heading
		}
		return plain(measure(t, testInput(t, path, nil), quick()))
	}
	if none, stated := figures(math.NaN(), math.NaN()), figures(0.005, 0.02); !reflect.DeepEqual(none, stated) {
		t.Errorf("without: %v\nwith 5 mm and 0.02 rad: %v", none, stated)
	}
}

// plain makes NaNs comparable.
func plain(r *Result) map[string]float64 {
	out := map[string]float64{}
	put := func(prefix string, m map[string]Figure) {
		for n, f := range m {
			for i, v := range []float64{f.U, f.Lo, f.Hi} {
				if math.IsNaN(v) {
					v = -1
				}
				out[prefix+n+string(rune('a'+i))] = v
			}
		}
	}
	put("run ", r.Run)
	put("floor ", r.Floor)
	for n, b := range r.Blocks {
		put(n+" ", b)
	}
	return out
}

// Laws of every figure: the interval holds the published value and its ends are
// in order.
func TestIntervalLaws(t *testing.T) {
	for name, in := range map[string]Input{
		"with a camera":      testInput(t, rows(10, 0.15, 220), testCamera(t)),
		"without":            testInput(t, rows(10, 0.22, 100), nil),
		"at thirty a second": testInput(t, rows(30, 0.17, 60), nil),
	} {
		r := measure(t, in, quick())
		b := r.Headline(in.Result)
		c := in.Result.Coverage
		for what, v := range map[string]float64{"covered_share": c.CoveredShare, "reachable_share": c.ReachableShare, "covered_m2": c.CoveredM2, "redundancy": c.Redundancy} {
			f := b[what]
			t.Logf("%s: %s %.5f, u %.5f, from %.5f to %.5f", name, what, v, f.U, f.Lo, f.Hi)
			if !(f.Lo < f.Hi && f.U > 0) || v < f.Lo || v > f.Hi {
				t.Errorf("%s: %s is %g, interval %+v", name, what, v, f)
			}
		}
		for i, lv := range []string{"50", "80", "90", "95", "99"} {
			f := b["time_to_s."+lv]
			if v := c.TimeTo[i]; v < f.Lo || v > f.Hi {
				t.Errorf("%s: time to %s %% is %g, interval %+v", name, lv, v, f)
			}
			t.Logf("%s: time to %s %%: %.1f s, u %.2f, from %.1f to %.1f", name, lv, c.TimeTo[i], f.U, f.Lo, f.Hi)
			if f.Lo > f.Hi {
				t.Errorf("%s: time to %s %%: %+v", name, lv, f)
			}
		}
		if f := r.Run["duration_s"]; f.Hi-f.Lo > 8*in.Trace.Samples[1].T {
			t.Errorf("%s: duration %+v", name, f)
		}
		if pad := r.Blocks["pad"]["covered_share"]; !(pad.Lo < pad.Hi) {
			t.Errorf("%s: pad %+v", name, pad)
		}
	}
}

// The budget: an input that is known exactly contributes nothing, one known
// half as well twice as much, and the parts add up in squares to the whole.
func TestBudget(t *testing.T) {
	in := testInput(t, rows(10, 0.15, 220), testCamera(t))
	o := quick()
	o.BudgetDraws = 80
	r := measure(t, in, o)
	sum := 0.0
	for _, b := range r.Budget {
		t.Logf("%-9s u of covered share %.5f, of redundancy %.5f, of distance %.4f m, of time to 80 %% %.3f s (%s)", b.Input, b.U["covered_share"], b.U["redundancy"], b.U["distance_m"], b.U["time_to_s.80"], b.Words)
		sum += b.U["covered_share"] * b.U["covered_share"]
		switch b.Input {
		case InputOutlines:
			if b.U["distance_m"] != 0 || !(b.U["open_m2"] > 0) {
				t.Errorf("outlines: %v", b.U)
			}
		case InputTool:
			if b.U["open_m2"] != 0 || !(b.U["covered_m2"] > 0) {
				t.Errorf("tool: %v", b.U)
			}
		case InputClock:
			if b.U["covered_share"] != 0 || !(b.U["duration_s"] > 0) {
				t.Errorf("clock: %v", b.U)
			}
		}
	}
	whole := r.Headline(in.Result)["covered_share"].U
	t.Logf("together %.5f, by the budget %.5f", whole, math.Sqrt(sum))
	// 80 draws settle a standard deviation to 8 %; four times that.
	if math.Abs(math.Sqrt(sum)/whole-1) > 0.35 {
		t.Errorf("the budget adds up to %g, all together %g", math.Sqrt(sum), whole)
	}
	o.OutlineSigma *= 2
	o.Draws = 20 // the budget alone is looked at
	twice := measure(t, in, o)
	k := twice.Budget[4].U["open_m2"] / r.Budget[4].U["open_m2"]
	if math.Abs(k-2) > 0.05 { // the same draws, twice as large; areas hold a product term
		t.Errorf("outlines known half as well contribute %.3f times as much", k)
	}
	o.OutlineSigma = 0
	none := measure(t, in, o)
	if u := none.Budget[4].U["covered_share"]; u != 0 {
		t.Errorf("outlines known exactly contribute %g", u)
	}
}

// Of a rectangle of a x b whose corners have a standard uncertainty s on each
// axis, the area has s sqrt(a^2 + b^2) (from the surveyor's formula).
func TestOutlineArea(t *testing.T) {
	in := testInput(t, rows(10, 0.2, 60), nil)
	o := quick()
	o.Draws, o.BudgetDraws, o.Cell = 400, 0, 0.05
	r := measure(t, in, o)
	room := 0.005 * math.Hypot(4, 3)
	sofa := 0.005 * math.Hypot(0.7, 0.8)
	want, got := math.Hypot(room, sofa), r.Floor["open_m2"].U
	t.Logf("u of the open floor: %.5f m2, closed form %.5f", got, want)
	if math.Abs(got/want-1) > 0.15 { // 400 draws: 3.5 %, four times that
		t.Errorf("u of the open floor is %g m2, want %g", got, want)
	}
}

// A robot that stands gains no travel by its noise, and one that drives hardly
// any: noise of 5 mm over 2 s adds less than a thousandth.
func TestNoiseAddsNoTravel(t *testing.T) {
	tr := rows(10, 0.2, 100)
	for i := range tr.Samples {
		tr.Samples[i].Sigma = 0.005
	}
	last := tr.Samples[len(tr.Samples)-1]
	for i := 0; i < 600; i++ {
		last.T += 0.1
		tr.Samples = append(tr.Samples, last)
	}
	length := func(ss []geom.Sample) (sum float64) {
		for i := 1; i < len(ss); i++ {
			sum += math.Hypot(ss[i].X-ss[i-1].X, ss[i].Y-ss[i-1].Y)
		}
		return sum
	}
	const seed = 6
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	own, drawn := length(tr.Samples), 0.0
	for i := 0; i < 50; i++ {
		out, _ := drawTrace(tr, nil, newPathError(tr, DefaultOptions(), 0.3, nil, 0), rng)
		drawn += length(out.Samples) / 50
	}
	t.Logf("%.3f m driven, %.3f m with noise: %.5f more, allowed 0.001", own, drawn, drawn/own-1)
	if !(math.Abs(drawn/own-1) < 0.001) {
		t.Error("noise adds travel")
	}
}

// A gap bends the way only as far as the run goes: what is not known of a robot
// before it sets off is no travel.
func TestGapsBeyondTheRun(t *testing.T) {
	tr := rows(10, 0.2, 100)
	const first, last = 100, 110 // bridged, and seen at either end
	for i := first + 1; i < last; i++ {
		tr.Samples[i].State, tr.Samples[i].Sigma = geom.Bridged, 0.08
	}
	longer := func(from float64) float64 {
		tr.Run.From = from
		_, l := drawTrace(tr, nil, newPathError(tr, DefaultOptions(), 0.3, nil, 0), rand.New(rand.NewSource(7)))
		return l
	}
	whole, half, none := longer(0), longer(tr.Samples[(first+last)/2].T), longer(tr.Samples[last].T)
	t.Logf("seed 7: a gap within the run is longer by %.4f m, half of it by %.4f, one before it by %.4f", whole, half, none)
	if none != 0 || !(whole > 0.01) || !(half < whole) {
		t.Error("a gap counts as far as it is of the run")
	}
}

// The turned run has the figures of the run: cells four times as coarse change
// redundancy and share by less than a thousandth, which they do not where
// borders run with the cells.
func TestSkewEvensOut(t *testing.T) {
	in := testInput(t, rows(10, 0.1637, 200), nil)
	fineOpt := in.Coverage
	fineOpt.Cell = 0.003
	fineRes, err := coverage.Measure(turnTrace(in.Trace, 0.6), turnPlan(in.Plan, 0.6), in.Robot, fineOpt)
	if err != nil {
		t.Fatal(err)
	}
	fine := fineRes.Coverage
	worst := func(angle float64) (w float64) {
		for _, cell := range []float64{0.0125, 0.0137, 0.015} {
			opt := in.Coverage
			opt.Cell = cell
			rep, err := coverage.NewRepeat(opt, false)
			if err != nil {
				t.Fatal(err)
			}
			robot := in.Robot
			l, err := rep.Measure(turnTrace(in.Trace, angle), turnPlan(in.Plan, angle), &robot)
			if err != nil {
				t.Fatal(err)
			}
			w = math.Max(w, math.Max(math.Abs(l.Coverage.CoveredShare-fine.CoveredShare), math.Abs(l.Coverage.Redundancy-fine.Redundancy)))
		}
		return w
	}
	a := skew(in.Plan)
	askew, along, diagonal := worst(a), worst(0), worst(math.Pi/4)
	t.Logf("turned by %.1f degrees: off by at most %.5f, allowed 0.001; not turned %.5f; along the diagonal %.5f", geom.Degrees(a), askew, along, diagonal)
	if askew > 0.001 || along < 2*askew {
		t.Error("turning the run does not even out its cells")
	}
}

func TestThin(t *testing.T) {
	tr := rows(30, 0.15, 120)
	th := thin(tr, 0.5)
	t.Logf("%d of %d samples kept", len(th.Samples), len(tr.Samples))
	if len(th.Samples) > len(tr.Samples)/3 {
		t.Error("straight rows were not thinned")
	}
	k := 0
	for _, s := range tr.Samples {
		for th.Samples[k+1].T < s.T {
			k++
		}
		a, b := th.Samples[k], th.Samples[k+1]
		u := (s.T - a.T) / (b.T - a.T)
		if d := math.Hypot(a.X+u*(b.X-a.X)-s.X, a.Y+u*(b.Y-a.Y)-s.Y); d > 1.5*thinM || b.T-a.T > 0.5+1e-9 {
			t.Fatalf("at %g s the thinned path is %g m off", s.T, d)
		}
	}
	tr.Samples[100].State = geom.Lost
	found := false
	for _, s := range thin(tr, 0.5).Samples {
		found = found || s.State == geom.Lost
	}
	if !found {
		t.Error("a lost sample was left out")
	}
}

func TestRefuses(t *testing.T) {
	in := testInput(t, rows(10, 0.2, 30), nil)
	for what, change := range map[string]func(*Input, *Options){
		"few draws": func(_ *Input, o *Options) { o.Draws = 3 }, "no level": func(_ *Input, o *Options) { o.Level = 1 },
		"no time": func(_ *Input, o *Options) { o.PathTime = 0 }, "coarse": func(_ *Input, o *Options) { o.Cell = 1 },
		"no path": func(i *Input, _ *Options) { i.Trace = nil }, "no figures": func(i *Input, _ *Options) { i.Result = nil },
		"negative": func(_ *Input, o *Options) { o.WidthTol = -1 },
	} {
		i, o := in, DefaultOptions()
		change(&i, &o)
		if _, err := Measure(i, o); err == nil {
			t.Errorf("%s: no error", what)
		} else {
			t.Logf("%s: %v", what, err)
		}
	}
}

// BenchmarkHour is an hour's run at 30 looks a second, default number of draws.
func BenchmarkHour(b *testing.B) {
	in := testInput(b, rows(30, 0.15, 3600), testCamera(b))
	for b.Loop() {
		measure(b, in, DefaultOptions())
	}
}
