package figure

import (
	"image/color"
	"math"
	"testing"

	"swathe/geom"
)

// The picture's colours cover as much of the floor as the view says.
func TestSeen(t *testing.T) {
	plan := &geom.Plan{Name: "parlour"}
	setRing(&plan.Room, 0, 0, 4, 0, 4, 3, 0, 3)
	v := &geom.View{Cell: 0.05, Cols: 80, Rows: 60, OpenM2: 12}
	for r := range v.Rows {
		for c := range v.Cols {
			s := geom.InView
			switch {
			case c >= 60:
				s = geom.Behind
			case r >= 50:
				s = geom.OutOfFrame
			case r < 10:
				s = geom.Under
			}
			v.Cells = append(v.Cells, s)
			switch s {
			case geom.Behind, geom.OutOfFrame:
				v.UnseenM2 += v.Cell * v.Cell
			case geom.Under:
				v.UnderM2 += v.Cell * v.Cell
			}
		}
	}
	o := DefaultOptions()
	o.Labels, o.Width, o.Height = None, 440, 340
	p, err := Seen(plan, "ceiling", v, o)
	if err != nil {
		t.Fatal(err)
	}
	k, _, _, err := PlanView(plan, o)
	if err != nil {
		t.Fatal(err)
	}
	img := p.Image()
	count := map[color.RGBA]float64{}
	for y := range o.Height {
		for x := range o.Width {
			c := color.RGBAModel.Convert(img.At(x, y)).(color.RGBA)
			if int(c.R) > int(c.G)+40 { // missed floor, its lines and what lies between
				c = missedColour
			}
			count[c]++
		}
	}
	for _, c := range []struct {
		what string
		of   color.RGBA
		m2   float64
	}{{"not seen", missedColour, v.UnseenM2}, {"seen", neutralColour, 12 - v.UnseenM2 - v.UnderM2}} {
		if got := count[c.of] / (k * k); math.Abs(got-c.m2) > 0.15 { // the room's outline lies on the rest
			t.Errorf("%s: %.2f m2 are drawn, the view has %.2f", c.what, got, c.m2)
		}
	}
	if _, err := Seen(plan, "ceiling", &geom.View{Cols: 2, Rows: 2}, o); err == nil {
		t.Error("a view without cells was drawn")
	}
	if _, err := Seen(nil, "ceiling", v, o); err == nil {
		t.Error("a view of no plan was drawn")
	}
}
