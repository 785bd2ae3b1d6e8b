package geom

import (
	"math"
	"math/rand"
	"testing"
)

// The worked example of Umeyama, "Least-squares estimation of transformation
// parameters between two point patterns", IEEE PAMI 13(4), 1991.
func TestFitRigidUmeyama(t *testing.T) {
	a := []Point2{{0, 0}, {1, 0}, {0, 2}}
	b := []Point2{{0, 0}, {-1, 0}, {0, 2}}
	r, err := FitRigid(a, b)
	if err != nil {
		t.Fatal(err)
	}
	s, c := math.Sincos(r.Turn)
	near(t, "cosine of the turn", c, 0.832050, 1e-6)
	near(t, "sine of the turn", -s, 0.554700, 1e-6)
	near(t, "scale", r.Scale, math.Sqrt(13)/5, 1e-6)
	near(t, "shift x", r.Shift.X, -0.980484, 1e-6)
	near(t, "shift y", r.Shift.Y, 0.296866, 3e-6)
	sum := 0.0
	for i := range a {
		d := r.Apply(a[i]).Dist(b[i])
		sum += d * d
	}
	near(t, "root mean square", math.Sqrt(sum/3), 0.787245, 1e-6)
}

// Points carried by a turn and a shift give these back; Undo is the inverse.
func TestFitRigidRoundTrip(t *testing.T) {
	seed := int64(5)
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	for range 200 {
		want := Rigid{Turn: math.Pi * (2*rng.Float64() - 1), Shift: Point2{rng.NormFloat64(), rng.NormFloat64()}}
		var from, to []Point2
		for range 2 + rng.Intn(20) {
			p := Point2{4 * rng.Float64(), 3 * rng.Float64()}
			from, to = append(from, p), append(to, want.Apply(p))
			if d := want.Undo(want.Apply(p)).Dist(p); d > 1e-12 {
				t.Fatalf("there and back is off by %g m", d)
			}
		}
		got, err := FitRigid(from, to)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(WrapAngle(got.Turn-want.Turn)) > 1e-9 || got.Shift.Dist(want.Shift) > 1e-9 || math.Abs(got.Scale-1) > 1e-9 {
			t.Fatalf("%+v, want %+v", got, want)
		}
	}
	for _, bad := range [][2][]Point2{{nil, nil}, {{{1, 1}}, {{1, 1}}}, {{{1, 1}, {1, 1}}, {{0, 0}, {1, 1}}}, {{{1, 1}, {2, 1}}, {{0, 0}}}} {
		if _, err := FitRigid(bad[0], bad[1]); err == nil {
			t.Errorf("%v onto %v was taken", bad[0], bad[1])
		}
	}
}

func TestOutlineSpread(t *testing.T) {
	a := []Point2{{0, 0}, {4, 0}, {4, 3}, {0, 3}}
	turned := []Point2{{4, 3}, {0, 3}, {0, 0}, {4, 0}}
	if rms, worst := OutlineSpread(a, turned); rms > 1e-12 || worst > 1e-12 {
		t.Errorf("the same outline begun elsewhere: %g, %g", rms, worst)
	}
	// A wall moved by 10 mm: the corners of the wider outline are farthest.
	b := []Point2{{0, 0}, {4.01, 0}, {4.01, 3}, {0, 3}}
	rms, worst := OutlineSpread(a, b)
	near(t, "largest", worst, 0.01, 1e-9)
	if !(rms > 0.003 && rms < 0.007) { // 3 of 14 m of wall are off by 10 mm: 4.6 mm
		t.Errorf("root mean square %g", rms)
	}
	if r2, w2 := OutlineSpread(b, a); math.Abs(r2-rms) > 1e-12 || w2 != worst {
		t.Errorf("the other way round: %g and %g", r2, w2)
	}
}
