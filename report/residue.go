package report

import (
	"fmt"
	"math"

	"swathe/report/sheet"
	"swathe/report/words"
)

// Residue is what was left on one patch of the floor, cycle by cycle, as the run's
// own recording shows it. A cycle is one crossing: a tool came over the patch and
// the robot went away again, so that the patch shows.
type Residue struct {
	Patch         string         `json:"patch"`
	Kind          string         `json:"kind"`     // stain, debris or hair
	BeforeS       float64        `json:"before_s"` // s in the recording, of the picture before
	BeforeM2      float64        `json:"before_m2"`
	BeforeLengthM float64        `json:"before_length_m"` // of hair
	BeforeCount   *int           `json:"before_count"`
	CleanS        float64        `json:"time_to_clean_s"` // from the run's start, until no more than CleanShare is left, for good; null: never
	CleanCycles   *int           `json:"cycles_to_clean"`
	Cycles        []ResidueCycle `json:"cycles"`
	Reason        *string        `json:"reason"` // why figures are null
}

// ResidueCycle is what was left after one crossing.
type ResidueCycle struct {
	Cycle          int        `json:"cycle"` // from 1
	TS             float64    `json:"t_s"`   // of the picture, from the run's start
	LeftShare      float64    `json:"left_share"`
	LeftInterval95 [2]float64 `json:"left_interval_95"`
	AfterM2        float64    `json:"after_m2"`
	AfterLengthM   float64    `json:"after_length_m"`
	AfterCount     *int       `json:"after_count"`
	DifferenceMean float64    `json:"difference_mean"` // CIEDE2000 to the clean floor, of what is left
	Reason         *string    `json:"reason"`
}

// CleanShare is the share left below which a patch counts as clean: what the
// method itself can tell from nothing on a floor with a pattern.
const CleanShare = 0.05

// Settle sets the time and the cycles until the patch was clean: the first cycle
// from which on every one that could be measured was.
func (r *Residue) Settle() {
	r.CleanS, r.CleanCycles = NaN, nil
	for i := len(r.Cycles) - 1; i >= 0; i-- {
		c := r.Cycles[i]
		if !Measured(c.LeftShare) {
			continue
		}
		if c.LeftShare > CleanShare {
			return
		}
		n := c.Cycle
		r.CleanS, r.CleanCycles = c.TS, &n
	}
}

// residueSection tells what was left on the patches; empty if none were looked at.
func (in SheetInput) residueSection() sheet.Section {
	if len(in.Run.Residue) == 0 {
		return sheet.Section{}
	}
	s := sheet.Section{Heading: "Left on the floor, cycle by cycle"}
	for _, r := range in.Run.Residue {
		t := sheet.Table{Name: "Patch " + r.Patch + " (" + r.Kind + ")", Head: []string{"crossings", "time of the run", "left", "95" + words.NB + "% interval", "difference"}}
		for _, c := range r.Cycles {
			left := words.NotMeasured
			if Measured(c.LeftShare) {
				left = words.Share(c.LeftShare, 0.005)
			} else if c.Reason != nil {
				left += ": " + *c.Reason
			}
			iv := ""
			if Measured(c.LeftInterval95[0]) {
				iv = words.Share(c.LeftInterval95[0], 0.005) + " to " + words.Share(c.LeftInterval95[1], 0.005)
			}
			t.Rows = append(t.Rows, []string{fmt.Sprint(c.Cycle), words.Duration(c.TS), left, iv,
				known(c.DifferenceMean, func(v float64) string { return words.Number(v, math.NaN(), 1) })})
		}
		text := "Patch " + r.Patch + ": not clean by the end of the recording."
		switch {
		case r.CleanCycles != nil:
			text = fmt.Sprintf("Patch %s: clean (%s or less left) after %s and %s.", r.Patch, words.Share(CleanShare, 0.005), words.Some(*r.CleanCycles, "crossing"), words.Duration(r.CleanS))
		case r.Reason != nil:
			text = "Patch " + r.Patch + ": " + words.NotMeasured + ": " + *r.Reason + "."
		}
		s.Text = append(s.Text, text)
		if len(t.Rows) > 0 {
			s.Tables = append(s.Tables, t)
		}
	}
	s.Text = append(s.Text, "A crossing is one visit of a tool to the patch. The difference is the mean colour difference (CIEDE2000) of what is left to the clean floor.")
	return s
}

// RunResidue is what a run left on the patches of its layout.
type RunResidue struct {
	Run     string
	Patches []Residue
}

// Last is the last cycle that could be measured; nil: none could.
func (r Residue) Last() *ResidueCycle {
	for i := len(r.Cycles) - 1; i >= 0; i-- {
		if Measured(r.Cycles[i].LeftShare) {
			return &r.Cycles[i]
		}
	}
	return nil
}
