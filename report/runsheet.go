package report

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"swathe/coverage"
	"swathe/coverage/conduct"
	"swathe/coverage/doubt"
	"swathe/geom"
	"swathe/report/figure"
	"swathe/report/sheet"
	"swathe/report/words"
)

// SheetInput is what the page of one run is made of.
type SheetInput struct {
	Run    *Run
	Figure figure.Run
	Unit   words.Unit
	Setup  []byte // setup.yaml

	ConditionUnit func(name string) string // unit of a condition; nil: not known
	Readings      [][]string               // of the bench, that belong to this run: quantity and value
}

// RunSheet returns the page of one run.
func RunSheet(in SheetInput) sheet.Sheet {
	r, unit := in.Run, in.Unit
	s := sheet.Sheet{Mark: r.Mark, Title: in.Figure.Title(), Lead: in.Figure.Headline(), Details: in.Figure.Details(unit)}
	add := func(p sheet.Section) { s.Sections = append(s.Sections, p) }
	add(sheet.Section{Heading: "Figures", Tables: []sheet.Table{in.topFigures()}, Text: []string{"\u00b1: twice the standard uncertainty of this measurement."}})
	if story := Story(r, in.Figure.Plan, unit); len(story) > 0 {
		add(sheet.Section{Heading: "In short", Text: story})
	}
	if len(r.Warnings) > 0 {
		add(sheet.Section{Heading: "Warnings", List: r.Warnings})
	}
	add(sheet.Section{Heading: "Pictures", Pictures: in.pictures()})
	add(conditionSection(r.Conditions, in.ConditionUnit))
	if t := in.workTable(); len(t.Rows) > 0 {
		add(sheet.Section{Heading: "Work, dock and energy", Tables: []sheet.Table{t}})
	}
	open := len(s.Sections) // what follows is folded under its heading
	add(sheet.Section{Heading: "All figures", Tables: []sheet.Table{in.figures()}})
	if r.Ledger != nil {
		add(sheet.Section{Heading: "Time by activity", Pictures: []sheet.Picture{{
			Caption: "Every second of the run belongs to one entry.",
			Draw: func(o figure.Options) (*figure.Picture, error) {
				return figure.Minutes(in.Figure.Title(), Spells(r), o)
			},
			Options: PictureSize(unit, 1200, 760),
		}}})
	}
	add(in.eventSection())
	add(in.missedSection())
	if len(r.Edges) > 0 {
		add(sheet.Section{Heading: "Along walls and obstacles", Tables: []sheet.Table{edgeTable(r.Edges, unit)}})
	}
	if len(r.Areas) > 0 {
		add(sheet.Section{Heading: "Areas", Tables: []sheet.Table{areaTable(r.Areas, unit)}})
	}
	if len(r.TestObjects) > 0 {
		add(sheet.Section{Heading: "Test objects", Tables: []sheet.Table{objectTable(r.TestObjects, unit)}})
	}
	add(in.qualitySection())
	if r := in.residueSection(); r.Heading != "" {
		add(r)
	}
	if b := in.budgetSection(); b.Heading != "" {
		add(b)
	}
	add(sheet.Section{Heading: "What the figures mean", Terms: definitions})
	if len(r.Thresholds) > 0 {
		t := sheet.Table{Name: "Thresholds", Head: []string{"setting", "value", "meaning"}}
		for _, h := range r.Thresholds {
			t.Rows = append(t.Rows, []string{h.Name, strings.TrimSpace(h.Value + words.NB + h.Unit), h.Meaning})
		}
		add(sheet.Section{Heading: "Thresholds for events and times", Tables: []sheet.Table{t}})
	}
	add(in.againSection())
	for i := range s.Sections[open:] {
		s.Sections[open+i].Folded = true
	}
	for _, part := range s.Sections {
		for i := range part.Pictures {
			part.Pictures[i].Options.Mark = r.Mark
		}
	}
	return s
}

// interval returns the 95 % interval of a figure in words, empty if unknown. An
// open end is one that may never be reached.
func (in SheetInput) interval(k Known, name string, word func(v, u float64) string) string {
	iv, ok := k.Interval95[name]
	if !ok || !Measured(iv.Lo) && !Measured(iv.Hi) {
		return ""
	}
	u := k.U(name)
	end := func(v float64) string {
		if !Measured(v) {
			return "never"
		}
		return word(v, u)
	}
	lo, hi := end(iv.Lo), end(iv.Hi)
	if lo == hi {
		return "" // narrower than what is printed
	}
	return lo + " to " + hi
}

// topFigures are the eight figures that a reader looks for first.
func (in SheetInput) topFigures() sheet.Table {
	b, run := in.Run.Coverage, in.Run.Run
	t := sheet.Table{Name: "The main figures", Head: []string{"figure", "value", "\u00b1"}}
	row := func(name string, v float64, k Known, key string, word func(v, u float64) string) {
		u := k.U(key)
		more := ""
		if Measured(v) && u > 0 {
			more = word(2*u, u)
		}
		t.Rows = append(t.Rows, []string{name, word(v, u), more})
	}
	length := func(v, u float64) string { return words.Length(v, u, in.Unit) }
	duration := func(v, _ float64) string { return words.Duration(v) }
	row("Share of open floor", b.CoveredShare, b.Known, "covered_share", words.Share)
	row("Share of reachable floor", b.ReachableShare, b.Known, "reachable_share", words.Share)
	row("Time of the run", run.DurationS, run.Known, "duration_s", duration)
	row("Time to 90"+words.NB+"% of reachable floor", b.TimeToReachable[2], b.Known, "time_to_reachable_s.90", func(v, _ float64) string {
		if math.IsNaN(v) {
			return "not reached"
		}
		return words.Duration(v)
	})
	row("Passes per cleaned spot", b.MeanPasses, b.Known, "mean_passes", func(v, u float64) string { return words.Number(v, u, 2) })
	row("Distance driven", run.DistanceM, run.Known, "distance_m", length)
	missed := "none listed"
	if len(in.Run.Missed) > 0 {
		m := in.Run.Missed[0]
		missed = words.Area(m.AreaM2, math.NaN(), in.Unit) + ", " + figure.BesideWords(m.Beside)
	}
	t.Rows = append(t.Rows, []string{"Largest missed patch", missed, ""}, []string{"Outcome", run.Ended, ""})
	return t
}

// workTable is the time at work apart from that in the dock, and what the bench
// read of this run, such as its energy.
func (in SheetInput) workTable() sheet.Table {
	t := sheet.Table{Name: "Work, dock and energy"}
	if a := in.Run.Active; a != nil {
		t.Rows = append(t.Rows, []string{"Time at work", words.Duration(a.ActiveS)})
	}
	if k := in.Run.Docking; k != nil {
		t.Rows = append(t.Rows, []string{"Time in the dock", dockedWords(k)}, []string{"Returns to the dock", fmt.Sprint(k.Trips)})
	}
	t.Rows = append(t.Rows, in.Readings...)
	return t
}

// dockedWords is the time that a run spent in its dock before it went on.
func dockedWords(k *conduct.Docking) string {
	const arriving = 1 // s: a run ends with its last movement, which may be in the dock
	if k.DockedS < arriving {
		return "none"
	}
	return words.Duration(k.DockedS)
}

func (in SheetInput) figures() sheet.Table {
	b, run, floor, unit := in.Run.Coverage, in.Run.Run, in.Run.Floor, in.Unit
	t := sheet.Table{Name: "Figures of the run", Head: []string{"figure", "value", "95" + words.NB + "% interval", "tool 5" + words.NB + "mm narrower or wider"}}
	length := func(v, u float64) string { return words.Length(v, u, unit) }
	area := func(v, u float64) string { return words.Area(v, u, unit) }
	number := func(v, u float64) string { return words.Number(v, u, 2) }
	duration := func(v, _ float64) string { return words.Duration(v) }
	// row writes a value with the digits that its uncertainty supports.
	row := func(name string, v float64, k Known, key string, word func(v, u float64) string, band string) {
		t.Rows = append(t.Rows, []string{name, word(v, k.U(key)), in.interval(k, key, word), band})
	}
	band := func(lo, hi float64) string {
		if !Measured(lo) || !Measured(hi) {
			return ""
		}
		return words.Share(lo, math.NaN()) + " to " + words.Share(hi, math.NaN())
	}
	row("Share of reachable floor", b.ReachableShare, b.Known, "reachable_share", words.Share, band(b.Narrower.ReachableShare, b.Wider.ReachableShare))
	row("Share of open floor", b.CoveredShare, b.Known, "covered_share", words.Share, band(b.Narrower.CoveredShare, b.Wider.CoveredShare))
	row("Time of the run", run.DurationS, run.Known, "duration_s", duration, "")
	for i, level := range coverage.Levels {
		name := fmt.Sprintf("Time to %d"+words.NB+"%%", level)
		if i == 0 {
			name += " of reachable floor"
		}
		row(name, b.TimeToReachable[i], b.Known, fmt.Sprintf("time_to_reachable_s.%d", level), func(v, u float64) string {
			if math.IsNaN(v) {
				return "not reached"
			}
			return words.Duration(v)
		}, "")
	}
	row("Time to 99"+words.NB+"% of final coverage", b.PlateauS, b.Known, "plateau_s", duration, "")
	row("Passes per cleaned spot", b.MeanPasses, b.Known, "mean_passes", number, "")
	if Measured(b.Economy.LaneEfficiency) {
		row("Lane efficiency (0: random search, 1: perfect lanes)", b.Economy.LaneEfficiency, b.Known, doubt.LaneEfficiency, number, "")
	}
	row("Distance driven", run.DistanceM, run.Known, "distance_m", length, "")
	row("Moving, share of the time", run.MovingShare, run.Known, "moving_share", words.Share, "")
	row("New floor a minute", b.RateM2PerMin, b.Known, "rate_m2_per_min", area, "")
	row("Open floor", floor.OpenM2, floor.Known, "open_m2", area, "")
	row("Reachable floor", floor.ReachableM2, floor.Known, "reachable_m2", area, "")
	t.Rows = append(t.Rows, []string{"How it started and ended", run.Started + "; " + run.Ended, "", ""})
	// Columns that hold nothing are left out.
	for col := 3; col >= 2; col-- {
		empty := true
		for _, r := range t.Rows {
			empty = empty && r[col] == ""
		}
		if empty {
			t.Head = append(t.Head[:col:col], t.Head[col+1:]...)
			for i, r := range t.Rows {
				t.Rows[i] = append(r[:col:col], r[col+1:]...)
			}
		}
	}
	return t
}

// pictureSize is the size of a page's pictures. At 250 dots per inch the
// smallest text, 7 points, is 24 pixels: 20 on the full page, 13 on a telephone,
// where a picture keeps 640 pixels and scrolls sideways, 7 points in print.
func PictureSize(unit words.Unit, w, h int) figure.Options {
	o := figure.DefaultOptions()
	o.Width, o.Height, o.DPI, o.Unit = w, h, 250, unit
	return o
}

func (in SheetInput) pictures() []sheet.Picture {
	run := in.Figure
	of := func(draw func(figure.Run, figure.Options) (*figure.Picture, error), caption string) sheet.Picture {
		return sheet.Picture{Caption: caption, Draw: func(o figure.Options) (*figure.Picture, error) { return draw(run, o) }, Options: PictureSize(in.Unit, 1200, 860)}
	}
	out := []sheet.Picture{
		of(figure.Passes, "How often each spot was cleaned. The colours and their meaning are the same for every run and robot."),
		of(figure.Path, "Path of the robot, from dark at the start to light at the end."),
		of(figure.Curve, "Share cleaned over time. The broken lines show what the same sweeping would have given in perfect lanes and at random."),
	}
	if len(run.Cover.Missed) > 0 {
		out = append(out, of(figure.MissedPatches, "Missed reachable floor, with the largest patches numbered."))
	}
	if len(in.Run.Events) > 0 {
		es := FigureEvents(in.Run, run.Plan, in.Unit)
		out = append(out, sheet.Picture{Caption: "Where events happened.", Draw: func(o figure.Options) (*figure.Picture, error) { return figure.Events(run, es, o) }, Options: PictureSize(in.Unit, 1200, 860)})
	}
	return out
}

// FigureEvents returns the run's events for figure.Events, their sentences in
// that unit.
func FigureEvents(r *Run, plan *geom.Plan, unit words.Unit) []figure.Event {
	var es []figure.Event
	for _, e := range r.Events {
		es = append(es, figure.Event{X: e.X, Y: e.Y, Words: e.Text(plan, unit)})
	}
	return es
}

// Spells returns the run's ledger for figure.Minutes; nil if none was made.
func Spells(r *Run) []figure.Spell {
	if r.Ledger == nil {
		return nil
	}
	uses := map[string]figure.Use{
		conduct.EntryNew: figure.UseNew, conduct.EntryLane: figure.UseAgain, conduct.EntryLayer: figure.UseAgain,
		conduct.EntryEdge: figure.UseEdges, conduct.EntryAround: figure.UseEdges,
		conduct.EntryTransit: figure.UseOther, conduct.EntryTurning: figure.UseOther, conduct.EntryStanding: figure.UseOther,
		conduct.EntryReversing: figure.UseOther, conduct.EntryStuck: figure.UseOther,
		conduct.EntryReturning: figure.UseDock, conduct.EntryDocked: figure.UseDock, conduct.EntryLeaving: figure.UseDock,
	}
	var out []figure.Spell
	for _, e := range r.Ledger.Entries {
		use, ok := uses[e.Name]
		if !ok {
			use = figure.UseUnknown
		}
		out = append(out, figure.Spell{Words: e.Name, Seconds: e.TimeS, Use: use})
	}
	return out
}

func (in SheetInput) eventSection() sheet.Section {
	s := sheet.Section{Heading: "Events"}
	switch {
	case in.Run.Events == nil:
		s.Text = []string{"Events were not analysed in this run."}
	case len(in.Run.Events) == 0:
		s.Text = []string{"No events were found."}
	default:
		t := sheet.Table{Name: "Events", Head: []string{"time in the recording", "what", "for"}}
		for _, e := range in.Run.Events {
			t.Rows = append(t.Rows, []string{words.Clock(e.StartS), e.What(in.Figure.Plan, in.Unit), words.Duration(e.EndS - e.StartS)})
		}
		s.Tables = []sheet.Table{t}
	}
	return s
}

func (in SheetInput) missedSection() sheet.Section {
	s := sheet.Section{Heading: "Missed floor"}
	if len(in.Run.Missed) == 0 {
		s.Text = []string{"No missed patch is large enough to list."}
		return s
	}
	t := sheet.Table{Name: "Missed patches", Head: []string{"patch", "area", "lies"}}
	const most = 15
	for i, m := range in.Run.Missed {
		if i == most {
			s.Text = []string{fmt.Sprintf("The %d largest of %d patches.", most, len(in.Run.Missed))}
			break
		}
		t.Rows = append(t.Rows, []string{fmt.Sprint(i + 1), words.Area(m.AreaM2, math.NaN(), in.Unit), figure.BesideWords(m.Beside)})
	}
	s.Tables = []sheet.Table{t}
	return s
}

func edgeTable(es []coverage.Edge, unit words.Unit) sheet.Table {
	t := sheet.Table{Name: "Edges", Head: []string{"edge", "length", "followed closely", "mean distance", "on its right side"}}
	for _, e := range es {
		t.Rows = append(t.Rows, []string{e.Name, words.Length(e.LengthM, math.NaN(), unit), words.Share(e.FollowedShare, 0.004),
			known(e.ClearanceM, func(v float64) string { return figure.AwayWords(v, unit) }),
			known(e.RightShare, func(v float64) string { return words.Share(v, 0.04) })})
	}
	return t
}

func areaTable(as []coverage.Area, unit words.Unit) sheet.Table {
	t := sheet.Table{Name: "Areas", Head: []string{"area", "kind", "size", "share of its reachable floor", "mean passes", "time spent"}}
	for _, a := range as {
		t.Rows = append(t.Rows, []string{a.Name, strings.ReplaceAll(a.Kind, "_", " "), words.Area(a.OpenM2, math.NaN(), unit),
			known(a.ReachableShare, func(v float64) string { return words.Share(v, math.NaN()) }),
			known(a.MeanPasses, func(v float64) string { return words.Number(v, math.NaN(), 1) }), words.Duration(a.TimeS)})
	}
	return t
}

func objectTable(ps []TestObject, unit words.Unit) sheet.Table {
	t := sheet.Table{Name: "Test objects", Head: []string{"thing", "outcome", "closest", "moved"}}
	for _, p := range ps {
		outcome := words.NotMeasured + ": " + p.Reason
		if p.Outcome != nil {
			outcome = *p.Outcome
		}
		length := func(v float64) string { return words.Length(v, math.NaN(), unit) }
		closest := known(p.ClearanceM, length)
		if lo, hi := length(p.ClearanceLo), length(p.ClearanceHi); Measured(p.ClearanceLo) && lo != hi {
			closest += " (" + lo + " to " + hi + ")"
		}
		t.Rows = append(t.Rows, []string{p.Name, outcome, closest, known(p.MovedM, length)})
	}
	return t
}

// known writes a value, or a dash where it was not measured.
func known(v float64, word func(float64) string) string {
	if !Measured(v) {
		return "\u2013"
	}
	return word(v)
}

func (in SheetInput) qualitySection() sheet.Section {
	r := in.Run
	s := sheet.Section{Heading: "Quality of the measurement"}
	t := sheet.Table{Name: "Quality", Rows: [][]string{
		{"Robot in sight", words.Share(r.Trace.SeenShare, math.NaN()) + " of the recording"},
		{"Hidden, path filled in", words.Share(r.Trace.BridgedShare, math.NaN())},
		{"Position unknown", words.Share(r.Trace.LostShare, math.NaN())},
		{"Standard uncertainty of a position", words.Length(r.Trace.SigmaM, r.Trace.SigmaM/5, in.Unit)},
		{"Grid cell size", words.Length(r.Coverage.CellM, math.NaN(), in.Unit)},
	}}
	row := func(name, v string) { t.Rows = append(t.Rows, []string{name, v}) }
	if c := r.Camera; c.Solved != nil {
		row("Camera solved from the marks", words.List(c.Solved))
		if len(c.NotSolved) > 0 {
			row("Not solved", strings.Join(c.NotSolved, "; "))
		}
		row("Marks fit to", words.Number(c.MarkRMSPx, math.NaN(), 2)+words.NB+"pixels, "+millimetres(c.MarkRMSM)+" on the floor")
		row("Error of a mark left out, RMS", millimetres(c.LeaveOneOut))
		for i, e := range c.TapeErrorM {
			row(fmt.Sprintf("Tape %d, picture minus tape", i+1), millimetres(e))
		}
	}
	if Measured(r.Floor.UnseenM2) && r.Floor.UnseenM2 > 0 {
		row("Floor that the camera cannot see", words.Area(r.Floor.UnseenM2, math.NaN(), in.Unit))
	}
	if Measured(r.Floor.UnknownM2) && r.Floor.UnknownM2 > 0 {
		row("Floor that may have been cleaned out of view", words.Area(r.Floor.UnknownM2, math.NaN(), in.Unit)+
			"; the share of reachable floor lies between "+words.Share(r.Coverage.IfNot.ReachableShare, math.NaN())+" and "+words.Share(r.Coverage.IfSwept.ReachableShare, math.NaN()))
	}
	s.Tables = []sheet.Table{t}
	return s
}

// budgetWords say what each input of the uncertainty budget is.
var budgetWords = map[string]string{
	"camera": "the camera's position and lens", "path": "the robot's path", "tool": "the tool's width and place on the robot", "robot": "the robot's own size",
	"outlines": "the corners of room and furniture", "raster": "the grid", "clock": "when the run began and ended",
}

// budgetSection says which input contributes how much to the uncertainty: what
// to measure better first. It is empty where that was not worked out.
func (in SheetInput) budgetSection() sheet.Section {
	u := in.Run.Uncertainty
	if u == nil || len(u.Budget) == 0 {
		return sheet.Section{}
	}
	const headline, passes, distance = "reachable_share", "mean_passes", "distance_m"
	total := 0.0
	for _, b := range u.Budget {
		if v := b.StandardU[headline]; Measured(v) {
			total += v * v
		}
	}
	t := sheet.Table{Name: "Uncertainty by cause", Head: []string{"input", "variation", "part in the uncertainty of the share",
		"share cleaned, \u00b1", "times over a spot, \u00b1", "distance, \u00b1"}}
	budget := append([]Budget(nil), u.Budget...)
	sort.SliceStable(budget, func(i, j int) bool { return budget[i].StandardU[headline] > budget[j].StandardU[headline] })
	for _, b := range budget {
		name, ok := budgetWords[b.Input]
		if !ok {
			name = b.Input
		}
		part := "\u2013"
		if v := b.StandardU[headline]; Measured(v) && total > 0 {
			part = words.Number(100*(v*v)/total, math.NaN(), 0) + words.NB + "%"
		}
		of := func(key string, word func(v float64) string) string {
			if v, ok := b.StandardU[key]; ok {
				return known(v, word)
			}
			return "\u2013"
		}
		t.Rows = append(t.Rows, []string{name, b.Words, part,
			of(headline, func(v float64) string { return words.Number(v*100, math.NaN(), 2) + words.NB + "%" }),
			of(passes, func(v float64) string { return words.Number(v, math.NaN(), 3) }),
			of(distance, func(v float64) string { return words.Length(v, math.NaN(), in.Unit) })})
	}
	return sheet.Section{Heading: "Causes of the uncertainty", Tables: []sheet.Table{t},
		Text: []string{u.Method, "Each input was varied alone; measure the first one better first. \u00b1 is one standard uncertainty; that of the share in percentage points. Parts are of the variance and add up to the whole if the inputs are independent."}}
}

func millimetres(v float64) string {
	if !Measured(v) {
		return words.NotMeasured
	}
	return words.Number(v*1000, math.NaN(), 1) + words.NB + "mm"
}

func (in SheetInput) againSection() sheet.Section {
	r := in.Run
	t := sheet.Table{Name: "Files and versions"}
	for i, f := range r.Recording.Files {
		sum := ""
		if i < len(r.Recording.SHA256) {
			sum = r.Recording.SHA256[i]
		}
		t.Rows = append(t.Rows, []string{"Recording " + f, "SHA-256 " + sum})
	}
	t.Rows = append(t.Rows, []string{"Set-up", "SHA-256 " + r.SetupSHA})
	for _, k := range sortedKeys(r.Versions) {
		t.Rows = append(t.Rows, []string{"Version: " + k, r.Versions[k]})
	}
	s := sheet.Section{Heading: "Reproduce these figures", Tables: []sheet.Table{t},
		Text: []string{"With these recordings and the set-up below as lab.yaml: swathe measure LAB " + r.Layout + "/" + r.Name() + " --again"}}
	if len(in.Setup) > 0 {
		s.Verbatim = []string{string(in.Setup)}
	}
	return s
}

func sortedKeys(m map[string]string) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	sort.Strings(out)
	return out
}

// definitions say how each figure comes about, in the reader's words.
var definitions = []sheet.Term{
	{Term: "Open floor", Means: "The room less the obstacles on its floor, as surveyed."},
	{Term: "Reachable floor", Means: "The open floor that the tool can touch with the robot anywhere that it can get to from its start. Floor closer to a wall than the tool comes, or behind a gap narrower than the robot, is not reachable for this robot."},
	{Term: "Cleaned", Means: "A spot is cleaned once the tool has passed over it at least once. The share of reachable floor judges one robot; the share of open floor compares robots."},
	{Term: "Pass", Means: "One pass over a spot ends when the robot has driven on by more than its own radius since the spot was last under the tool; the next touch counts as another. Turning on the spot adds none."},
	{Term: "Run", Means: "From the first moment that the robot moves by itself to the last. What people do before and after does not count."},
	{Term: "Time to 90" + words.NB + "%", Means: "From the start of the run until that share of the reachable floor was cleaned."},
	{Term: "Time to 99" + words.NB + "% of final coverage", Means: "From the start until 99" + words.NB + "% of what the run cleaned in the end."},
	{Term: "Perfect lanes, random driving", Means: "With the same sweeping, lanes without overlap would clean all of the floor once before any of it twice; random driving cleans 1 \u2212 exp(\u2212c) of it, where c is the swept area divided by the reachable floor (search theory, B. O. Koopman)."},
	{Term: "95" + words.NB + "% interval", Means: "The range of the true value with 95" + words.NB + "% probability, given the uncertainty of camera, path and tool."},
}

// conditionSection is the conditions of one run.
func conditionSection(conditions map[string]string, unit func(string) string) sheet.Section {
	s := sheet.Section{Heading: "Conditions"}
	t := sheet.Table{Name: "Conditions", Head: []string{"condition", "as stated"}}
	for _, c := range ConditionsOf([]map[string]string{conditions}, unit) {
		if c.Name == "date" {
			c.Values = []string{conditions["date"]}
		}
		t.Rows = append(t.Rows, []string{c.Heading(), c.Words()})
	}
	for _, k := range []string{"outcome", "note"} {
		if v := conditions[k]; v != "" {
			t.Rows = append(t.Rows, []string{k + ", as stated by the tester", v})
		}
	}
	if len(t.Rows) == 0 {
		s.Text = []string{"The notes of this run state none. A figure without its conditions cannot be compared later."}
		return s
	}
	s.Tables = []sheet.Table{t}
	return s
}
