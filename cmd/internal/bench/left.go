package bench

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"swathe/cmd/internal/lab"
	"swathe/coverage/stats"
	"swathe/report"
)

// LeftOf names the quantity of what is left on a patch, by the patch's kind.
var LeftOf = map[string]string{"stain": "stain_left", "debris": "debris_left", "hair": "hair_left"}

// LeftReading is the share left on a patch after a run as a reading: the patch
// stands as its surface. interval is its 95 % interval, none if not known.
func LeftReading(k Key, kind, patch string, share float64, interval stats.Interval, note string) Reading {
	k.Quantity, k.Surface = LeftOf[kind], patch
	r := Reading{Key: k, Value: strconv.FormatFloat(100*share, 'f', 2, 64), Unit: "%", Note: note}
	if interval.Known() {
		r.Uncertainty = strconv.FormatFloat(100*(interval.Hi-interval.Lo)/(2*1.96), 'g', 2, 64)
	}
	return r
}

// All returns the readings of a lab, those entered and those that its recordings
// show; where both tell of one thing, the one entered counts. robot empty: of all.
func All(l *lab.Lab, robot string) ([]Reading, error) {
	out, err := Load(l, robot)
	if err != nil {
		return nil, err
	}
	shown, err := fromResults(l, robot)
	if err != nil || len(shown) == 0 {
		return out, err
	}
	entered := map[Key]bool{}
	for _, r := range out {
		entered[r.unversioned()] = true
	}
	for _, r := range shown {
		if !entered[r.unversioned()] {
			out = append(out, r)
		}
	}
	sortReadings(out)
	return out, nil
}

// unversioned is the key without what a hand may have left out.
func (k Key) unversioned() Key {
	k.Sample, k.Firmware = "", ""
	return k
}

// fromResults are the shares left in the end on the patches that recordings show.
func fromResults(l *lab.Lab, robot string) ([]Reading, error) {
	if !slices.ContainsFunc(l.LayoutNames, func(n string) bool { return len(l.Layouts[n].Patches) > 0 }) {
		return nil, nil
	}
	ids, err := report.ResultIDs(l.ResultsDir())
	if err != nil {
		return nil, err
	}
	var out []Reading
	for _, id := range ids {
		layout, name, _ := strings.Cut(id, "/")
		if lay := l.Layouts[layout]; lay == nil || len(lay.Patches) == 0 {
			continue
		}
		run, err := report.ReadRun(l.ResultDir(layout, name))
		if err != nil || robot != "" && run.Robot != robot {
			continue // what can't be read is told where results are listed
		}
		for _, p := range run.Residue {
			c := p.Last()
			if c == nil || LeftOf[p.Kind] == "" {
				continue
			}
			k := Key{Robot: run.Robot, Sample: run.Conditions[lab.CondSample], Firmware: run.Conditions[lab.CondFirmware], Layout: layout, Phase: run.Phase, Trial: run.Trial}
			iv := stats.NoInterval
			if report.Measured(c.LeftInterval95[0]) {
				iv = stats.Interval{Lo: c.LeftInterval95[0], Hi: c.LeftInterval95[1]}
			}
			r := LeftReading(k, p.Kind, p.Patch, c.LeftShare, iv, fmt.Sprintf("by the recording, after crossing %d", c.Cycle))
			r.Date, r.Operator = run.Conditions[lab.CondDate], run.Conditions["operator"]
			out = append(out, r)
		}
	}
	return out, nil
}

// OfRunInWords lists what was read of a recorded run, as rows of quantity and
// value.
func OfRunInWords(l *lab.Lab, r *report.Run) ([][]string, error) {
	rs, err := Load(l, r.Robot)
	if err != nil {
		return nil, err
	}
	rs = slices.DeleteFunc(rs, func(x Reading) bool {
		return x.Layout != r.Layout || x.Phase != r.Phase || x.Trial != r.Trial
	})
	var out [][]string
	for _, v := range Values(Quantities(l), rs) {
		name := v.Of.Words
		if v.Surface != "" {
			name += ", " + v.Surface
		}
		out = append(out, []string{name, v.Words()})
	}
	return out, nil
}

// OfRun is a quantity that was read of one recorded run, such as its energy, over
// all surfaces and passes; NaN: none was.
func OfRun(rs []Reading, layout, robot, phase string, trial int, quantity string) (v, u float64) {
	v, u2 := math.NaN(), 0.0
	for _, r := range rs {
		if r.Layout != layout || r.Robot != robot || r.Phase != phase || r.Trial != trial || r.Quantity != quantity {
			continue
		}
		a, w := r.SI()
		if v != v {
			v = 0
		}
		v, u2 = v+a, u2+w*w
	}
	return v, math.Sqrt(u2)
}
