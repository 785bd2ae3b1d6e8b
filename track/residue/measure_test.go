package residue

import (
	"errors"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"swathe/geom"
)

// bounds hold drawn floors to what is promised of hand-held pictures.
func TestDrawnFloors(t *testing.T) {
	marks, eye := drawMarks()
	own, residual, err := marks.Solve(drawW, drawH)
	if err != nil {
		t.Fatal(err)
	}
	for i, d := range floors() {
		if i > 0 && os.Getenv("SWATHE_LONG") == "" {
			t.Log("the other floors are drawn with SWATHE_LONG=1")
			break
		}
		sb, sa := d.soil()
		bs, bd, bl := sb.truth()
		as, ad, al := sa.truth()
		none := spotless()
		before, clean := d.shoot(t, eye, &sb, 1, 0.15, 92, 1), d.shoot(t, eye, none, 1, 0.15, 92, 2)
		for i, c := range []struct {
			name        string
			light, tilt float64
			quality     int
			seed        uint64
		}{{"dim and uneven", 0.75, -0.25, 92, 4}, {"same light", 1, 0.15, 92, 3}, {"quality 80", 1, 0.15, 80, 5}} {
			if i > 0 && os.Getenv("SWATHE_LONG") == "" {
				break
			}
			t.Run(d.name+"/"+c.name, func(t *testing.T) {
				after := d.shoot(t, eye, &sa, c.light, c.tilt, c.quality, c.seed)
				out, err := Measure(Job{Ground: own, Residual: residual, Room: drawRoom, Patches: drawPatches, Before: before, After: after, Clean: clean})
				if err != nil {
					t.Fatal(err)
				}
				within := func(what string, got *float64, want, bound float64) {
					if got == nil {
						t.Errorf("%s is null", what)
						return
					}
					e := *got/want - 1
					t.Logf("%s: bound %.1f %%, actual %+.2f %%", what, 100*bound, 100*e)
					if !(math.Abs(e) <= bound) {
						t.Errorf("%s is %g, drawn %g", what, *got, want)
					}
				}
				s, g, h := out["spill"], out["crumbs"], out["threads"]
				for _, f := range out {
					if f.Reason != nil {
						t.Log(f.Kind, *f.Reason)
					}
				}
				within("stain before", s.BeforeM2, bs, 0.02)
				within("stain after", s.AfterM2, as, 0.02)
				if s.LeftShare == nil || math.Abs(*s.LeftShare-as/bs) > 0.01 {
					t.Errorf("share left is %v, drawn %.4f", deref(s.LeftShare), as/bs)
				}
				within("debris before", g.BeforeM2, bd, 0.05)
				within("debris after", g.AfterM2, ad, 0.05)
				if g.BeforeCount == nil || math.Abs(float64(*g.BeforeCount-len(sb.grains))) > 0.034*float64(len(sb.grains)) || *g.AfterCount != len(sa.grains) {
					t.Errorf("grains: %v and %v, drawn %d and %d", deref(g.BeforeCount), deref(g.AfterCount), len(sb.grains), len(sa.grains))
				}
				within("hair before", h.BeforeLengthM, bl, 0.05)
				within("hair after", h.AfterLengthM, al, 0.05)
				// The colour as drawn, of floor and of stain by the same light.
				want := d.difference()
				if s.DifferenceMean == nil || math.Abs(*s.DifferenceMean-want) > 1.5 {
					t.Errorf("mean difference %v, drawn %.2f", deref(s.DifferenceMean), want)
				} else {
					t.Logf("mean difference: bound 1.5, actual %+.2f of %.1f", *s.DifferenceMean-want, want)
				}
			})
		}
		t.Run(d.name+"/clean", func(t *testing.T) {
			again := d.shoot(t, eye, none, 0.8, -0.1, 85, 6)
			out, err := Measure(Job{Ground: own, Residual: residual, Room: drawRoom, Patches: drawPatches, Before: clean, After: again, Clean: clean})
			if err != nil {
				t.Fatal(err)
			}
			for name, f := range out {
				if f.AfterM2 == nil || *f.AfterM2 > 0.002*0.15 || f.LeftShare != nil {
					t.Errorf("%s: %v m2 soiled, share left %v, of a clean floor", name, deref(f.AfterM2), deref(f.LeftShare))
				}
			}
		})
	}
}

func deref[T any](v *T) string {
	if v == nil {
		return "null"
	}
	return fmt.Sprint(*v)
}

// difference is the mean colour difference of the stain to the floor, as drawn.
func (d *drawn) difference() float64 {
	sb, _ := d.soil()
	sum, n := 0.0, 0.0
	for y := 0.05; y < 0.4; y += 0.002 {
		for x := 0.05; x < 0.55; x += 0.002 {
			if geom.InRing(sb.blobs[0], pt(x, y)) {
				c := d.floor(x, y)
				f := 1 + 0.15*(x-0.5) + 0.06*y*y
				sum += CIEDE2000(LabOf(f*c[0], f*c[1], f*c[2]), LabOf(f*c[0]*d.stain[0], f*c[1]*d.stain[1], f*c[2]*d.stain[2]))
				n++
			}
		}
	}
	return sum / n
}

func TestRefusals(t *testing.T) {
	marks, eye := drawMarks()
	fs := floors()
	none := spotless()
	cast, stripes := fs[0].shoot(t, eye, none, 1, 0.1, 90, 1), fs[1].shoot(t, eye, none, 1, 0.1, 90, 2)
	job := Job{Ground: eye, Room: drawRoom, Patches: drawPatches[:1], Before: cast, After: cast, Clean: cast}
	for _, c := range []struct {
		name, want string
		change     func(*Job)
	}{
		{"another floor after", "take both pictures of the same floor", func(j *Job) { j.After = stripes }},
		{"another floor clean", "take both pictures of the same floor", func(j *Job) { j.Clean = stripes }},
		{"marks that moved", "disagree", func(j *Job) { j.Residual = 0.0012 }},
		{"the camera moved", "from the clean one", func(j *Job) { j.After = shifted(cast, 7, 3) }},
		{"another size", "pixels", func(j *Job) { j.After = &Picture{W: 100, H: 80, Pix: make([]uint8, 24000)} }},
	} {
		t.Run(c.name, func(t *testing.T) {
			j := job
			c.change(&j)
			_, err := Measure(j)
			var no *Mismatch
			if !errors.As(err, &no) || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want a refusal with %q", err, c.want)
			}
		})
	}
	if _, r, err := marks.Solve(drawW, drawH); err != nil || r > MaxMarkResidual {
		t.Errorf("marks as clicked: %.2f mm, %v", r*1000, err)
	}
	refused := 0
	for i := range marks.Pixel {
		for _, axis := range []float64{0, math.Pi / 4, math.Pi / 2, 3 * math.Pi / 4} {
			m := Marks{Floor: marks.Floor, Pixel: append(marks.Pixel[:0:0], marks.Pixel...)}
			m.Pixel[i] = m.Pixel[i].Add(pt(25*math.Cos(axis), 25*math.Sin(axis)))
			if _, r, err := m.Solve(drawW, drawH); err != nil || r > MaxMarkResidual {
				refused++
			}
		}
	}
	// One direction of each mark is what a camera of another focal length would
	// show: that no four marks can tell.
	t.Logf("of 16 moved marks %d are refused; bound 12", refused)
	if refused < 12 {
		t.Errorf("of 16 marks moved by 25 px, %d are refused", refused)
	}
}

// shifted is a picture moved by whole pixels.
func shifted(p *Picture, dx, dy int) *Picture {
	o := &Picture{W: p.W, H: p.H, Pix: make([]uint8, len(p.Pix))}
	for y := range p.H {
		for x := range p.W {
			sx, sy := min(max(x+dx, 0), p.W-1), min(max(y+dy, 0), p.H-1)
			copy(o.Pix[3*(y*p.W+x):], p.Pix[3*(sy*p.W+sx):3*(sy*p.W+sx)+3])
		}
	}
	return o
}

// TestSmallShift: less than a pixel between the pictures is taken out.
func TestSmallShift(t *testing.T) {
	_, eye := drawMarks()
	d := floors()[0]
	none := spotless()
	clean := d.shoot(t, eye, none, 1, 0.1, 92, 1)
	l := d.shoot(t, eye, none, 1, 0.1, 92, 2).light().moved(0.37, -0.22).encoded()
	after := &Picture{W: drawW, H: drawH, Pix: make([]uint8, 3*drawW*drawH)}
	for c := range l.c {
		for i, v := range l.c[c] {
			after.Pix[3*i+c] = uint8(min(max(v+0.5, 0), 255))
		}
	}
	out, err := Measure(Job{Ground: eye, Room: drawRoom, Patches: drawPatches[:1], Before: clean, After: after, Clean: clean})
	if err != nil {
		t.Fatal(err)
	}
	if a := out["spill"].AfterM2; a == nil || *a > 0.002*0.175 {
		t.Errorf("a clean floor 0.4 px further shows %v m2 of stain", deref(a))
	}
}

// TestWithoutClean: a plain floor is its own reference, a patterned one is not,
// and that is said.
func TestWithoutClean(t *testing.T) {
	_, eye := drawMarks()
	for i, d := range floors() {
		if i == 1 && os.Getenv("SWATHE_LONG") == "" {
			continue
		}
		sb, sa := d.soil()
		out, err := Measure(Job{Ground: eye, Room: drawRoom, Patches: drawPatches, Before: d.shoot(t, eye, &sb, 1, 0.1, 92, 1), After: d.shoot(t, eye, &sa, 1, 0.1, 92, 2)})
		if err != nil {
			t.Fatal(err)
		}
		for name, f := range out {
			if f.Reason == nil || !strings.Contains(*f.Reason, "no clean picture") {
				t.Errorf("%s of %s does not say that there was no clean picture", name, d.name)
			}
		}
		if i == 2 {
			bs, _, bl := sb.truth()
			if v := out["spill"].BeforeM2; v == nil || math.Abs(*v/bs-1) > 0.05 {
				t.Errorf("stain on a plain floor: %v m2, drawn %g", deref(v), bs)
			}
			if v := out["threads"].BeforeLengthM; v == nil || math.Abs(*v/bl-1) > 0.08 {
				t.Errorf("hair on a plain floor: %v m, drawn %g", deref(v), bl)
			}
		} else if v := out["crumbs"].BeforeCount; v != nil {
			t.Errorf("grains on %s without a clean picture: %d; its pattern is as large as they are", d.name, *v)
		}
	}
}
