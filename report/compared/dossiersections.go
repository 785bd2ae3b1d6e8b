package compared

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"swathe/coverage/compare"
	"swathe/coverage/stats"
	"swathe/report"
	"swathe/report/sheet"
	"swathe/report/words"
)

// The sections of the page on one robot, in the order in which Dossier adds them.

// figuresSection has a table a layout, each with the conditions of its runs.
func (in DossierInput) figuresSection(ps []place) sheet.Section {
	sec := sheet.Section{Heading: "Main figures", Text: []string{
		"Intervals are 95 %. The average is that of the other robots (number in brackets), without this one.",
		"Failures: " + failureWords(in.Outcomes) + "."}}
	for _, b := range in.Bench {
		if b.Name == "pickup_share" {
			sec.Text = append(sec.Text, b.Words+b.Where+": "+b.Value+"; the others: "+b.others()+".")
		}
	}
	for _, l := range layoutsOf(ps) {
		t := sheet.Table{Name: "Main figures in " + l}
		for _, name := range headlineOf(in.Runs) {
			p, ok := findPlace(ps, l, phaseOf(ps, l), name)
			if !ok {
				f, _ := compare.Find(name)
				t.Rows = append(t.Rows, []string{f.Words, words.NotMeasured, "", ""})
				continue
			}
			if t.Head == nil {
				t.Head = []string{l, p.of.Name + ", " + words.Some(len(p.of.Runs), "run"), "rank", "average of the others"}
			}
			t.Rows = append(t.Rows, []string{p.figure.Words, cellWords(string(p.figure.Unit), p.cell, in.Unit), rankOf(p.rank), p.othersWords(in.Unit)})
		}
		if p, ok := findPlace(ps, l, phaseOf(ps, l), compare.Primary); ok {
			t.Note = conditionLine(report.ConditionsOf(conditionsOf(p.of.Runs), in.ConditionUnit))
		}
		sec.Tables = append(sec.Tables, t)
	}
	_, rest := in.own()
	for _, s := range rest {
		for _, p := range s.Figures {
			if p.Figure.Name == compare.Primary {
				sec.List = append(sec.List, fmt.Sprintf("Not in these tables: %s in %s, %s: %s %s.", s.Name, s.Layout, words.Some(len(s.Runs), "run"), p.Figure.Words, cellWords(string(p.Figure.Unit), FigureCell{s.Name, p.Cell}, in.Unit)))
			}
		}
	}
	return sec
}

// wordsSection makes a sentence of each figure in which the robot is known to
// stand in the better (or the worse) half of three robots and more.
func (in DossierInput) wordsSection(heading string, ps []place, best bool) sheet.Section {
	const most = 6
	s := sheet.Section{Heading: heading}
	say := func(words, value, others string, rank compare.Place, robots int) {
		if len(s.List) < most {
			s.List = append(s.List, fmt.Sprintf("%s: %s, rank %s; the average of the other robots (%d) is %s.", words, value, rank.Words(), robots, others))
		}
	}
	for _, p := range ps {
		if !stands(p.rank, best) || p.robots == 0 || p.phase != phaseOf(ps, p.layout) {
			continue
		}
		if p.figure.Name != "rate_m2_per_min" && !slices.Contains(headlineOf(in.Runs), p.figure.Name) {
			continue // one share and one time stand for all of their kind
		}
		u := string(p.figure.Unit)
		say(fmt.Sprintf("%s in %s (%s)", p.figure.Words, p.layout, p.phase), cellWords(u, p.cell, in.Unit), inWords(u, p.others, math.NaN(), in.Unit), p.rank, p.robots)
	}
	for _, b := range in.Bench {
		if stands(b.Rank, best) {
			say(b.Words+b.Where, b.Value, b.Others, b.Rank, b.OtherRobots)
		}
	}
	if len(s.List) == 0 {
		s.Text = []string{"No figure places it in the " + map[bool]string{true: "better", false: "worse"}[best] + " half of three robots or more."}
	}
	return s
}

func (in DossierInput) phaseSection(ps []place) sheet.Section {
	s := sheet.Section{Heading: "Mapping and mapped runs"}
	for _, l := range layoutsOf(ps) {
		t := sheet.Table{Name: l, Head: []string{l, "mapping", "mapped"}}
		for _, name := range []string{"covered_share", "duration_s", headlineOf(in.Runs)[1], "distance_m", "redundancy"} {
			a, ok1 := findPlace(ps, l, "mapping", name)
			b, ok2 := findPlace(ps, l, "mapped", name)
			if ok1 && ok2 {
				u := string(a.figure.Unit)
				t.Rows = append(t.Rows, []string{a.figure.Words, cellWords(u, a.cell, in.Unit), cellWords(u, b.cell, in.Unit)})
			}
		}
		if len(t.Rows) > 0 {
			s.Tables = append(s.Tables, t)
		}
	}
	return s
}

// objectSection is the trial matrix of the test objects.
func (in DossierInput) objectSection() sheet.Section {
	s := sheet.Section{Heading: "Test objects, trial by trial"}
	for _, layout := range layoutNames(in.Runs) {
		var runs []compare.Run
		names := map[string]bool{}
		for _, r := range in.Runs {
			if r.Layout == layout && len(r.TestObjects) > 0 {
				runs = append(runs, r)
				for n := range r.TestObjects {
					names[n] = true
				}
			}
		}
		if len(runs) == 0 {
			continue
		}
		slices.SortFunc(runs, func(a, b compare.Run) int {
			return strings.Compare(a.Phase+fmt.Sprintf("%06d", a.Trial), b.Phase+fmt.Sprintf("%06d", b.Trial))
		})
		t := sheet.Table{Name: layout, Head: []string{layout}}
		for _, r := range runs {
			t.Head = append(t.Head, fmt.Sprintf("%s %d", r.Phase, r.Trial))
		}
		t.Head = append(t.Head, "avoided")
		for _, n := range slices.Sorted(maps.Keys(names)) {
			row, k, of := []string{n}, 0, 0
			for _, r := range runs {
				o := r.TestObjects[n]
				switch o {
				case "":
					row = append(row, "not known")
					continue
				case "avoided":
					k++
				case "untested":
					row = append(row, o)
					continue
				}
				of++
				row = append(row, o)
			}
			cell := fmt.Sprintf("%d of %d", k, of)
			if iv := stats.Wilson(k, of, 0.95); iv.Known() {
				cell += fmt.Sprintf(" (%s to %s)", words.Share(iv.Lo, 0.02), words.Share(iv.Hi, 0.02))
			}
			t.Rows = append(t.Rows, append(row, cell))
		}
		s.Tables = append(s.Tables, t)
	}
	return s
}

// layoutNames are the layouts of some runs, sorted.
func layoutNames(rs []compare.Run) []string {
	m := map[string]bool{}
	for _, r := range rs {
		m[r.Layout] = true
	}
	return slices.Sorted(maps.Keys(m))
}

func (in DossierInput) benchSection() sheet.Section {
	s := sheet.Section{Heading: "Bench measurements"}
	if len(in.Bench) == 0 {
		return s
	}
	t := sheet.Table{Name: "Bench", Head: []string{"figure", "this robot", "rank", "average of the others"}}
	for _, b := range in.Bench {
		t.Rows = append(t.Rows, []string{b.Words + b.Where, b.Value, rankOf(b.Rank), b.others()})
	}
	s.Tables = []sheet.Table{t}
	s.Text = []string{"Means over trials with 95 % intervals from their scatter; sound levels are averaged by energy. A rank needs three trials; robots whose intervals overlap share ranks."}
	return s
}

// firmwareSection gives the change of the main figures from one firmware to the
// next, in the order in which they were tested.
func (in DossierInput) firmwareSection() sheet.Section {
	s := sheet.Section{Heading: "Changes between firmware versions"}
	for _, layout := range layoutNames(in.Runs) {
		for _, phase := range []string{"mapping", "mapped", "single"} {
			var runs []compare.Run
			versions := map[string]bool{}
			for _, r := range in.Runs {
				if r.Layout == layout && r.Phase == phase && r.Conditions["firmware"] != "" {
					runs = append(runs, r)
					versions[r.Conditions["firmware"]] = true
				}
			}
			if len(versions) < 2 {
				continue
			}
			slices.SortStableFunc(runs, func(a, b compare.Run) int { return strings.Compare(a.Conditions["date"], b.Conditions["date"]) })
			if t := in.changes(layout+", "+phase, runs); len(t.Head) > 1 {
				s.Tables = append(s.Tables, t)
			}
		}
	}
	if len(s.Tables) > 0 {
		s.Text = []string{"Change of the mean from one version to the next, with its 95 % interval where both have three runs or more, and the verdict."}
	}
	return s
}

// changes is a table of the changes between groups of runs that follow each
// other; what sets them apart beside the firmware stands in their names.
func (in DossierInput) changes(name string, runs []compare.Run) sheet.Table {
	t := sheet.Table{Name: name, Head: []string{name}}
	c, err := compare.New(runs, compare.DefaultOptions())
	if err != nil {
		return t // fewer than two runs are left to compare
	}
	for k := 1; k < len(c.Groups); k++ {
		t.Head = append(t.Head, c.Groups[k-1].Name+" to "+c.Groups[k].Name)
	}
	for _, figure := range headlineOf(in.Runs) {
		f, _ := compare.Find(figure)
		row := []string{f.Words}
		for k := 1; k < len(c.Groups); k++ {
			i := slices.IndexFunc(c.Differ, func(d compare.Difference) bool { return d.From == k-1 && d.To == k && d.Figure.Name == figure })
			if i < 0 {
				none := words.NotMeasured
				if strings.HasPrefix(figure, "time_to_") {
					none = "not reached in every run"
				}
				row = append(row, none)
				continue
			}
			d := c.Differ[i]
			x := DifferenceRow{Value: d.Value, Interval: d.Interval, MeasU: d.MeasU}
			if d.Reason != "" {
				x.Reason = &d.Reason
			}
			cell := differenceWords(string(f.Unit), x, in.Unit)
			switch d.Verdict {
			case compare.FirstBetter:
				cell += "; worse"
			case compare.SecondBetter:
				cell += "; better"
			case compare.NotApart, compare.TooFew:
				cell += "; " + string(d.Verdict)
			}
			row = append(row, cell)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// outcomeSection tells the runs apart whose path and tester agree that all went
// well from the others, which have a row each.
func (in DossierInput) outcomeSection() sheet.Section {
	t := sheet.Table{Name: "Outcomes", Head: []string{"run", "from its path", "stated by the tester", "assisted"}}
	well := 0
	for _, o := range in.Outcomes {
		guess, stated, assists := "not known: "+o.Reason, "not stated", "no"
		if o.Guess != nil {
			guess = *o.Guess + ": " + o.Reason
		}
		if o.Stated != nil {
			stated = *o.Stated
		}
		if o.Assists > 0 {
			assists = words.Count(o.Assists)
			if report.Measured(o.AssistS) {
				assists += ", " + words.Duration(o.AssistS)
			}
		}
		if o.Guess != nil && *o.Guess == compare.OutcomeComplete && stated == compare.OutcomeComplete && o.Assists == 0 {
			well++
			continue
		}
		t.Rows = append(t.Rows, []string{o.Run, guess, stated, assists})
	}
	s := sheet.Section{Heading: "How the runs ended", Text: []string{fmt.Sprintf("Complete, by the path and by the tester: %d of %s.", well, words.Some(len(in.Outcomes), "run"))}}
	if len(t.Rows) > 0 {
		s.Tables = []sheet.Table{t}
	}
	if len(in.Work) > 0 {
		s.Tables = append(s.Tables, sheet.Table{Name: "Work, dock and energy", Head: []string{"runs", "number", "time at work", "in the dock", "returns to the dock", "energy"}, Rows: in.Work})
		s.Text = append(s.Text, "Times and energy are means of the runs.")
	}
	s.List = in.Recharged
	return s
}

// identification tells reports apart: the beginning of the SHA-256 of all figures
// that the page rests on. The same figures give the same.
func (in DossierInput) identification() string {
	raw, err := report.Marshal(NewDossierDoc(in))
	if err != nil {
		return words.NotMeasured // no figure of it is other than a number, a text or null
	}
	sum := sha256.Sum256(raw)
	return hex.EncodeToString(sum[:6])
}

func (in DossierInput) identitySection() sheet.Section {
	identity := slices.Concat([][]string{{"Identification of this report", in.identification()}}, in.Identity, in.Laboratory)
	s := sheet.Section{Heading: "Identity and conditions", Tables: []sheet.Table{{Name: "Identity", Rows: identity}}}
	t := sheet.Table{Name: "Conditions", Head: []string{"condition", "of all runs"}}
	for _, c := range report.ConditionsOf(conditionsOf(in.Runs), in.ConditionUnit) {
		t.Rows = append(t.Rows, []string{c.Heading(), c.Words()})
	}
	if len(t.Rows) > 0 {
		s.Tables = append(s.Tables, t)
	}
	return s
}

// residueSection is the table of patches, a row for each of a run.
func (in DossierInput) residueSection() sheet.Section {
	if len(in.Left) == 0 {
		return sheet.Section{}
	}
	t := sheet.Table{Name: "Patches", Head: []string{"run", "patch", "left in the end", "95" + words.NB + "% interval", "crossings", "clean after"}}
	for _, l := range in.Left {
		for _, p := range l.Patches {
			row := []string{l.Run, p.Patch + " (" + p.Kind + ")", words.NotMeasured, "", "", "not clean"}
			if c := p.Last(); c != nil {
				row[2], row[3], row[4] = words.Share(c.LeftShare, 0.005), words.Share(c.LeftInterval95[0], 0.005)+" to "+words.Share(c.LeftInterval95[1], 0.005), fmt.Sprint(c.Cycle)
			} else {
				row[5] = words.NotMeasured
				if p.Reason != nil {
					row[2] += ": " + *p.Reason
				}
			}
			if p.CleanCycles != nil {
				row[5] = words.Some(*p.CleanCycles, "crossing") + ", " + words.Duration(p.CleanS)
			}
			t.Rows = append(t.Rows, row)
		}
	}
	return sheet.Section{Heading: "Left on the floor", Tables: []sheet.Table{t}}
}
