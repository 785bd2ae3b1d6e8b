package geom

import (
	"errors"
	"fmt"
	"math"
	"math/rand"
	"os"
	"slices"
	"strings"
	"testing"
)

// typing is a typing error made in a good survey: which marks it spoils and
// what must be said of it.
type typing struct {
	name string
	make func(rng *rand.Rand, marks []Mark) []int
	says string
}

// far picks a mark of which a change moves the floor point or pixel by much:
// a slip that changes nothing can be found by nobody.
func far(rng *rand.Rand, marks []Mark, change func(*Mark)) []int {
	for {
		i := rng.Intn(len(marks))
		m := marks[i]
		change(&m)
		if math.Hypot(m.Floor.X-marks[i].Floor.X, m.Floor.Y-marks[i].Floor.Y) > 0.3 || m.Pixel.Dist(marks[i].Pixel) > 30 {
			marks[i] = m
			return []int{i}
		}
	}
}

var typings = []typing{
	{"x ten times", func(rng *rand.Rand, m []Mark) []int { return far(rng, m, func(m *Mark) { m.Floor.X *= 10 }) }, "the decimal point of x"},
	{"y a tenth", func(rng *rand.Rand, m []Mark) []int { return far(rng, m, func(m *Mark) { m.Floor.Y /= 10 }) }, "the decimal point of y"},
	{"axes exchanged", func(rng *rand.Rand, m []Mark) []int {
		return far(rng, m, func(m *Mark) { m.Floor.X, m.Floor.Y = m.Floor.Y, m.Floor.X })
	}, "x and y seem to be swapped"},
	{"two marks exchanged", func(rng *rand.Rand, m []Mark) []int {
		p := rng.Perm(len(m))[:2]
		m[p[0]].Pixel, m[p[1]].Pixel = m[p[1]].Pixel, m[p[0]].Pixel
		return p
	}, "swap"},
	{"pixel typed wrongly", func(rng *rand.Rand, m []Mark) []int { return far(rng, m, func(m *Mark) { m.Pixel.X += 100 }) }, "appears at pixel"},
	{"mirrored survey", func(_ *rand.Rand, m []Mark) []int {
		for i := range m {
			m[i].Floor.X = 4 - m[i].Floor.X
		}
		return nil
	}, "mirrored floor"},
}

// Every one of 36 surveys with one typing error (six layouts of 6 to 12 marks,
// six errors) is answered by a sentence that names the mark and the error, and
// those with a wrong mark give a camera all the same.
func TestTypingErrors(t *testing.T) {
	rounds := 1
	if os.Getenv("SWATHE_LONG") == "1" {
		rounds = 10
	}
	for round := range rounds {
		typingErrors(t, int64(2101+1000*round))
	}
}

// misnamed are the cases that are known not to be named rightly, and why.
var misnamed = map[string]string{
	"seed 10101, 6 marks, pixel typed wrongly": "the right mark, but with six marks and a height a point ten times as far away explains its pixel as well",
}

func typingErrors(t *testing.T, seed int64) {
	t.Logf("seed %d", seed)
	good, worst := 0, 0.0
	for layout, n := range []int{6, 7, 8, 9, 10, 12} {
		for k, c := range typings {
			rng := rand.New(rand.NewSource(seed + int64(100*layout+k)))
			cam, w, h := drawCamera(rng, kindOf(layout%3))
			spec := drawSpec(rng, cam, w, h, n, 0.3)
			for i := range spec.Marks {
				f := &spec.Marks[i].Floor
				*f = Point3{math.Round(f.X*100) / 100, math.Round(f.Y*100) / 100, 0}
				spec.Marks[i] = markAt(cam, *f)
				px := &spec.Marks[i].Pixel
				px.X = math.Round(10*(px.X+0.3*rng.NormFloat64())) / 10
				px.Y = math.Round(10*(px.Y+0.3*rng.NormFloat64())) / 10
			}
			if layout%2 == 0 {
				spec.LensHeight = math.Round(100*cam.Centre.Z) / 100
			}
			bad := c.make(rng, spec.Marks)
			name := fmt.Sprintf("%d marks, %s %v", n, c.name, bad)
			sol, err := SolveCamera(spec)
			if bad == nil {
				var ce *CameraError
				if errors.As(err, &ce) && strings.Contains(ce.Reason, c.says) {
					good++
				} else {
					t.Errorf("%s: %v", name, err)
				}
				continue
			}
			if err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			var named []int
			for _, m := range sol.Misfits {
				named = append(named, m.Mark)
			}
			slices.Sort(bad)
			slices.Sort(named)
			said := ""
			for _, s := range sol.Warnings {
				if strings.Contains(s, "left out") {
					said += s + "\n"
				}
			}
			in, _ := floorRMS(cam, sol.Camera, w, h, 0)
			worst = math.Max(worst, in)
			known := misnamed[fmt.Sprintf("seed %d, %d marks, %s", seed, n, c.name)]
			if !slices.Equal(bad, named) || !strings.Contains(said, c.says) {
				if known == "" {
					t.Errorf("%s: named %v, said %q", name, named, said)
				}
				continue
			}
			if known != "" {
				t.Errorf("%s is named rightly now: take it off the known misses (%s)", name, known)
			}
			if layout == 4 && seed == 2101 {
				t.Logf("%s: %s", name, said)
			}
			good++
		}
	}
	t.Logf("%d of 36 named; floor between the marks off by %.1f mm at most", good, 1000*worst)
}

// What few marks cannot tell is said: with five, a wrong pixel is answered by
// the marks that it may be, or by the right one, never by a wrong name alone;
// with four by a warning that nothing checks them.
func TestFewMarksSayWhatTheyCannotTell(t *testing.T) {
	const seed = 77
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	open, named := 0, 0
	for range 12 {
		cam, w, h := drawCamera(rng, realLens)
		spec := drawSpec(rng, cam, w, h, 5, 0.3)
		i := rng.Intn(5)
		spec.Marks[i].Pixel.Y += 60
		sol, err := SolveCamera(spec)
		var ce *CameraError
		switch {
		case errors.As(err, &ce):
			open++
			if ce.Marks != nil && !slices.Contains(ce.Marks, i) {
				t.Errorf("mark %d is wrong, said %q", i+1, ce.Reason)
			}
		case strings.Contains(strings.Join(sol.Warnings, "\n"), "cannot tell which is wrong: it may be any of marks 1, 2, 3, 4 and 5"):
			open++
		case len(sol.Misfits) > 0:
			named++
			if sol.Misfits[0].Mark != i {
				t.Errorf("mark %d is wrong, said %q", i+1, sol.Warnings)
			}
		default:
			if !strings.Contains(strings.Join(sol.Warnings, "\n"), "a mistyped one may not be noticed") {
				t.Errorf("mark %d is wrong, nothing said: %q", i+1, sol.Warnings)
			}
		}
		four := spec
		four.Marks = spec.Marks[:4]
		if sol, err := SolveCamera(four); err == nil && !strings.Contains(strings.Join(sol.Warnings, "\n"), "a mistyped one") {
			t.Errorf("four marks: %q", sol.Warnings)
		}
	}
	t.Logf("12 surveys of five marks, one off by 60 px: %d answered by the marks it may be, %d named", open, named)
}
