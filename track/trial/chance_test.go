package trial

import (
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"swathe/geom"
	"swathe/track/scene/scenetest"
)

// TestChance measures recordings in which everything is left to chance and
// holds them to the bounds of the traits. It takes SWATHE_LONG=1;
// SWATHE_SEED=A or A-B says which seeds; SWATHE_EYE, that they go through
// encoded files. One of knownMisses that holds fails, as does any other that does
// not. Over a dozen and more, in which surveys, lenses, sizes and
// shutters all differ, sigma is held from both sides.
func TestChance(t *testing.T) { byChance(t, scenetest.ByChance, knownMisses, true) }

// TestChanceWide is TestChance for more that is left to chance, down to 50 kbit/s. Half
// of the heights are entered up to 10 mm wrong, and sigma, which takes them for
// right within 2 mm, is told but not held.
func TestChanceWide(t *testing.T) { byChance(t, scenetest.ByChanceWide, knownWideMisses, false) }

func byChance(t *testing.T, draw func(uint64) scenetest.Trait, known map[uint64]string, sigma bool) {
	from, to := uint64(1), uint64(12)
	if v := os.Getenv("SWATHE_SEED"); v != "" {
		from, to = seeds(t, v)
	} else if os.Getenv("SWATHE_LONG") == "" {
		t.Skip("takes minutes: SWATHE_LONG=1")
	}
	var pool []float64
	for seed := from; seed <= to; seed++ {
		t.Run(strconv.FormatUint(seed, 10), func(t *testing.T) {
			tr := draw(seed)
			if os.Getenv("SWATHE_EYE") == "" {
				tr.Encode = nil
			}
			sol := solve(t, tr)
			begun := time.Now()
			trace, s, err := measured(t, tr, sol)
			if err != nil {
				t.Fatal(err)
			}
			d := Drawing{Scene: tr.Scene, Survey: sol}
			sc := tr.Scene
			t.Logf("seed %d: bound %.0f, path RMS %.2f mm, 95 %% %.2f, max %.1f, seen %.2f, heading %.1f deg (texture %.2f, travel %.1f), 2 sigma %.2f, lost %.3f, start %+.2f end %+.2f; survey %.2f mm; %d x %d at %.1f/s, %.0f s, robot %.3f m, floor %s %.0f, top %.0f side %.0f, contrast %.2f, drift %.2f, noise %.1f/%.1f, blur %.2f, readout %.0f ms, %s to %s, people %d pets %d balls %d, wobble %.1f nudges %d, overhead %d, encoded as %v; took %.0f s", seed,
				1e3*tr.Bounds.PathRMS, 1e3*s.PathRMS, 1e3*s.P95, 1e3*s.Max, 1e3*s.SeenRMS, geom.Degrees(s.HeadingRMS), s.TextureShare, geom.Degrees(s.TravelRMS), s.Within2Sigma, s.LostSight, s.StartErr, s.EndErr,
				1e3*d.SurveyError(), sc.Camera.Width, sc.Camera.Height, sc.Timing.FPS, sc.Length, 2*sc.Robot.Radius(), sc.Look.Floor.Kind, sc.Look.Floor.Color[1], sc.Look.Robot.Top[1], sc.Look.Robot.Side[1], sc.Look.Robot.Contrast, sc.Light.DriftShare,
				sc.Sensor.Noise, sc.Sensor.Shot, sc.Sensor.Blur, 1e3*sc.Timing.Readout, trace.Started, trace.Ended, len(sc.People), len(sc.Pets), len(sc.Balls), sc.Wobble.Shift, len(sc.Nudges), len(sc.Plan.Overhead), tr.Encode, time.Since(begun).Seconds())
			t.Logf("   %d: %.2f within half a sigma, %.2f within one, %.2f within two", seed, Within(s.Ratios, 0.5), Within(s.Ratios, 1), Within(s.Ratios, 2))
			pool = append(pool, s.Ratios...)
			missed, why := misses(tr, s), known[seed]
			switch {
			case why == "":
				for _, m := range missed {
					t.Error(m)
				}
			case len(missed) == 0:
				t.Errorf("it keeps all bounds now: take it off the known misses (%s)", why)
			default:
				t.Logf("   %d: a known miss (%s): %s", seed, why, strings.Join(missed, "; "))
			}
		})
	}
	t.Logf("of %d coordinates %.3f lie within half a sigma, %.3f within one, %.3f within two", len(pool), Within(pool, 0.5), Within(pool, 1), Within(pool, 2))
	if sigma && to-from >= 11 {
		holdsSigma(t, pool)
	}
}

// knownMisses are the seeds, through encoded files, that do not keep all bounds, and why.
var (
	knownMisses     = map[uint64]string{}
	knownWideMisses = map[uint64]string{
		5: "behind a table it is bridged 52 mm beside its way",
		6: "its height is entered 7 mm wrong, and it is 5.2 mm off",
	}
)

func seeds(t *testing.T, v string) (from, to uint64) {
	t.Helper()
	a, b, ok := strings.Cut(v, "-")
	if !ok {
		b = a
	}
	from, err := strconv.ParseUint(a, 10, 64)
	if err != nil {
		t.Fatalf("SWATHE_SEED=%s: %v", v, err)
	}
	to, err = strconv.ParseUint(b, 10, 64)
	if err != nil {
		t.Fatalf("SWATHE_SEED=%s: %v", v, err)
	}
	return from, to
}
