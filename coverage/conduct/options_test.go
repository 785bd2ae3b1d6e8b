package conduct

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"swathe/coverage"
	"swathe/geom"
)

// Every threshold is checked, and the error names it.
func TestOptionsValidate(t *testing.T) {
	if err := DefaultOptions().Validate(); err != nil {
		t.Fatal(err)
	}
	n := reflect.TypeOf(Options{}).NumField()
	for i := range n {
		name := reflect.TypeOf(Options{}).Field(i).Name
		for _, bad := range []float64{-1, math.NaN(), 1e9} {
			o := DefaultOptions()
			reflect.ValueOf(&o).Elem().Field(i).SetFloat(bad)
			if err := o.Validate(); err == nil || !strings.Contains(err.Error(), name) {
				t.Errorf("%s = %g: %v", name, bad, err)
			}
		}
	}
}

func TestFindRefuses(t *testing.T) {
	tr := newPen(1, 1, 0, 61).drive(1, 0.3, 0).trace()
	plan := newPlan(t, 5, 4, nil)
	opt := coverage.DefaultOptions()
	opt.Cell = 0.02
	cov, err := coverage.Measure(tr, plan, wren, opt)
	if err != nil {
		t.Fatal(err)
	}
	short := *tr
	short.Samples = tr.Samples[:10]
	empty := *tr
	empty.Run.To = empty.Run.From
	for name, f := range map[string]func() error{
		"no path":     func() error { _, err := Find(nil, plan, wren, cov, DefaultOptions()); return err },
		"no plan":     func() error { _, err := Find(tr, nil, wren, cov, DefaultOptions()); return err },
		"other path":  func() error { _, err := Find(&short, plan, wren, cov, DefaultOptions()); return err },
		"no run":      func() error { _, err := Find(&empty, plan, wren, cov, DefaultOptions()); return err },
		"bad options": func() error { _, err := Find(tr, plan, wren, cov, Options{}); return err },
		"strange test object": func() error {
			_, err := FindTestObjects(tr, plan, wren, cov, []geom.ObjectSight{{Name: "ghost"}}, DefaultOptions())
			return err
		},
	} {
		if f() == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// Nothing is changed: path, plan and coverage stay as they were.
func TestFindChangesNothing(t *testing.T) {
	p := newPen(1, 1, 0, 62).rows(4, 1.5, 0.16, 0.3).turn(400).wait(6).drive(1, 0.3, 0)
	tr := p.trace()
	before := append([]geom.Sample(nil), tr.Samples...)
	plan := newPlan(t, 5, 4, nil)
	_, cov := find(t, tr, plan, wren)
	steps := append([]coverage.Step(nil), cov.Steps...)
	if _, err := Find(tr, plan, wren, cov, DefaultOptions()); err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(before, tr.Samples) || !reflect.DeepEqual(steps, cov.Steps) {
		t.Error("its arguments were changed")
	}
}

// Half an hour at 30 looks a second.
func BenchmarkFind(b *testing.B) {
	p := newPen(0.3, 0.3, 0, 63)
	for p.t < 1800 {
		p.rows(20, 4.2, 0.16, 0.3).to(0.3, 0.3, 0.3)
		p.turn(-geom.Degrees(geom.WrapAngle(p.pose.Heading)))
	}
	tr, plan := p.trace(), newPlan(b, 5, 4, nil)
	opt := coverage.DefaultOptions()
	opt.Cell = 0.01
	cov, err := coverage.Measure(tr, plan, wren, opt)
	if err != nil {
		b.Fatal(err)
	}
	b.ResetTimer()
	for range b.N {
		if _, err := Find(tr, plan, wren, cov, DefaultOptions()); err != nil {
			b.Fatal(err)
		}
	}
}
