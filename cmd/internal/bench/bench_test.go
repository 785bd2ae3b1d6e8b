package bench

import (
	"bytes"
	"fmt"
	"math"
	"math/rand"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/units"
	"swathe/coverage/compare"
	"swathe/coverage/stats"
)

const labText = `
layouts:
  den: {room: [[0, 0], [2, 0], [2, 1.5], [0, 1.5]]}
robots:
  tern: {diameter: 0.34, height: 0.1, tools: {brush: {width: 0.2}}}
  wren: {diameter: 0.30, height: 0.09, tools: {brush: {width: 0.2}}}
quantities:
  cord_pull: {words: force on the cord, unit: g, better: less, range: [0, 900]}
`

func newLab(t testing.TB) *lab.Lab {
	t.Helper()
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "lab.yaml"), []byte(labText), 0o644); err != nil {
		t.Fatal(err)
	}
	l, err := lab.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func put(t testing.TB, l *lab.Lab, text string, replace bool) (Taken, error) {
	t.Helper()
	rs, err := ReadCSV(l, "sheet.csv", strings.NewReader(text))
	if err != nil {
		return Taken{}, err
	}
	s, err := Open(l)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	return s.Put("sheet.csv", rs, replace)
}

const head = "robot,trial,surface,pass,quantity,value,unit,uncertainty\n"

// Each slip is refused with where it stands and how to mend it, and nothing of
// its file is taken.
func TestRefusals(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"wrong unit", head + "tern,1,,,mass_picked_up,40,s,\n", "sheet.csv:2: mass_picked_up is given in s, a unit of time. Give it in a unit of mass: kg, g, mg, lb, oz or gr."},
		{"no such unit", head + "tern,1,,,suction,4,kpa,\n", `sheet.csv:2: there is no unit "kpa". suction is given in Pa, hPa, kPa`},
		{"a duplicate trial", head + "tern,1,carpet,,mass_laid_out,50,g,\ntern,1,carpet,,mass_laid_out,51,g,\n", "sheet.csv:3: mass_laid_out of tern, trial 1, carpet is already in line 2."},
		{"more picked up than laid out", head + "tern,1,carpet,,mass_laid_out,50,g,\ntern,1,carpet,,mass_picked_up,52,g,\n", "sheet.csv:3: mass_picked_up of tern, trial 1, carpet come to 52 g, more than the 50 g laid out."},
		{"more over all passes", head + "tern,1,carpet,,mass_laid_out,50,g,\ntern,1,carpet,1,mass_picked_up,30,g,\ntern,1,carpet,2,mass_picked_up,21,g,\n", "come to 51 g"},
		{"more picked up and left", head + "tern,1,,,mass_laid_out,50,g,\ntern,1,,,mass_picked_up,40,g,\ntern,1,,,mass_left,12,g,\n", "mass_picked_up and mass_left of tern, trial 1 come to 52 g"},
		{"a missing field", head + "tern,,,,mass_laid_out,50,g,\n", "sheet.csv:2: trial is empty. Every reading needs robot, trial, quantity, value, unit."},
		{"a missing column", "robot,trial,quantity,value\ntern,1,suction,4\n", "sheet.csv:1: the column unit is missing."},
		{"a column misspelt", "robot,trail,quantity,value,unit\n", `sheet.csv:1: there is no column "trail". Did you mean "trial"?`},
		{"no such robot", head + "turn,1,,,suction,4,kPa,\n", `sheet.csv:2: there is no robot "turn" in lab.yaml or robots/. Did you mean "tern"?`},
		{"no such quantity", head + "tern,1,,,sucktion,4,kPa,\n", `Did you mean "suction"?`},
		{"worked out", head + "tern,1,,,pickup_share,90,%,\n", "pickup_share is calculated from mass_picked_up and mass_laid_out; enter those."},
		{"no number", head + "tern,1,,,suction,4 kPa,kPa,\n", `value is "4 kPa"; it should be a plain number`},
		{"a slip of the unit", head + "tern,1,,,mass_laid_out,50,kg,\n", "mass_laid_out is 50 kg; it should be from 1e-06 to 10 kg."},
		{"beyond the lab's range", head + "tern,1,,,cord_pull,1,kg,\n", "cord_pull is 1 kg; it should be from 0 to 0.9 kg."},
		{"a negative uncertainty", head + "tern,1,,,suction,4,kPa,-1\n", `uncertainty is "-1"`},
		{"half a run", "robot,layout,trial,quantity,value,unit\ntern,den,1,energy,20,W h\n", "layout and phase name a recorded run together"},
		{"nothing", "", "sheet.csv: the file is empty. Its first row names the columns"},
		{"too many fields", head + "tern,1,,,suction,4,kPa,,x\n", "sheet.csv:2: this row has 9 fields for 8 columns"},
	} {
		l := newLab(t)
		_, err := put(t, l, c.text, false)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
		if rs, err := Load(l, ""); err != nil || len(rs) > 0 {
			t.Errorf("%s: %d readings were taken all the same (%v)", c.name, len(rs), err)
		}
	}
	// A balance that is coarse and says so is no slip.
	if _, err := put(t, newLab(t), head+"tern,1,,,mass_laid_out,50,g,0.5\ntern,1,,,mass_picked_up,50.8,g,0.5\n", false); err != nil {
		t.Errorf("within twice the uncertainty: %v", err)
	}
}

// What was entered is not overwritten by chance, and what is replaced is kept.
func TestEnteredBefore(t *testing.T) {
	l := newLab(t)
	row := head + "tern,1,,,mass_laid_out,50,g,\n"
	if got, err := put(t, l, row, false); err != nil || got != (Taken{Added: 1}) {
		t.Fatalf("%+v, %v", got, err)
	}
	if got, err := put(t, l, row, false); err != nil || got != (Taken{Same: 1}) {
		t.Fatalf("the same again: %+v, %v", got, err)
	}
	other := strings.Replace(row, "50", "51", 1)
	if _, err := put(t, l, other, false); err == nil || !strings.Contains(err.Error(), "was entered before as 50 g; this row has 51 g") {
		t.Fatalf("another value: %v", err)
	}
	// A reading that contradicts one entered earlier is refused as well.
	if _, err := put(t, l, head+"tern,1,,,mass_picked_up,60,g,\n", false); err == nil || !strings.Contains(err.Error(), "more than the 50 g laid out") {
		t.Fatalf("more than was laid out the day before: %v", err)
	}
	if got, err := put(t, l, other, true); err != nil || got != (Taken{Replaced: 1}) {
		t.Fatalf("replaced: %+v, %v", got, err)
	}
	s, err := Open(l)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	var kept string
	if err := s.db.QueryRow("SELECT value FROM replaced").Scan(&kept); err != nil || kept != "50" {
		t.Errorf("the older reading is %q, %v", kept, err)
	}
}

// CSV -> SQLite -> CSV is equal: what is exported, taken into an empty store and
// exported again is the same file, and every field of every row is as it was
// typed.
func TestRoundTrip(t *testing.T) {
	l := newLab(t)
	rapid.Check(t, func(t *rapid.T) {
		os.Remove(filepath.Join(l.Dir, File))
		var rs []Reading
		seen := map[Key]bool{}
		word := rapid.StringMatching(`[A-Za-z0-9 ,"'.;:äß/-]{0,12}`)
		for range rapid.IntRange(0, 20).Draw(t, "n") {
			// Only quantities that nothing else bounds.
			qu := rapid.SampledFrom([]string{"suction", "air_flow", "sound_power", "body_mass", "edge_gap", "energy"}).Draw(t, "quantity")
			of, _ := find(Catalogue, qu)
			un := rapid.SampledFrom(units.Names(of.Unit.Kind)).Draw(t, "unit")
			si := rapid.Float64Range(math.Max(of.Low, 0), of.High).Draw(t, "si")
			x := Reading{Key: Key{Robot: rapid.SampledFrom([]string{"tern", "wren"}).Draw(t, "robot"), Sample: strings.TrimSpace(word.Draw(t, "sample")), Firmware: strings.TrimSpace(word.Draw(t, "firmware")),
				Trial: rapid.IntRange(1, 3).Draw(t, "trial"), Surface: strings.TrimSpace(word.Draw(t, "surface")), Pass: rapid.IntRange(0, 3).Draw(t, "pass"), Quantity: qu},
				Value: fmt.Sprintf("%.*f", rapid.IntRange(0, 9).Draw(t, "digits"), units.Must(un).FromSI(si)), Unit: un,
				Uncertainty: rapid.SampledFrom([]string{"", "0", "0.10", "1e-3"}).Draw(t, "u"), Date: rapid.SampledFrom([]string{"", "2026-03-02", "2026-03-02 14:30"}).Draw(t, "date"),
				Operator: strings.TrimSpace(word.Draw(t, "operator")), Note: strings.TrimSpace(word.Draw(t, "note"))}
			if rapid.Bool().Draw(t, "of a run") {
				x.Layout, x.Phase = "den", "mapped"
			}
			if v, _ := x.SI(); v < of.Low || v > of.High || seen[x.Key] {
				continue // rounded out of its range, or twice
			}
			seen[x.Key] = true
			rs = append(rs, x)
		}
		text := func(rs []Reading) string {
			var b bytes.Buffer
			if err := WriteCSV(&b, rs); err != nil {
				t.Fatal(err)
			}
			return b.String()
		}
		through := func(in string) string {
			os.Remove(filepath.Join(l.Dir, File))
			got, err := ReadCSV(l, "x.csv", strings.NewReader(in))
			if err != nil {
				t.Fatalf("%v\n%s", err, in)
			}
			s, err := Open(l)
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			if _, err := s.Put("x.csv", got, false); err != nil {
				t.Fatal(err)
			}
			all, err := s.All("")
			if err != nil {
				t.Fatal(err)
			}
			return text(all)
		}
		sortReadings(rs)
		first := text(rs)
		if got := through(first); got != first {
			t.Fatalf("came back as\n%s\nwas\n%s", got, first)
		}
		shuffled := slices.Clone(rs)
		slices.Reverse(shuffled)
		if got := through(text(shuffled)); got != first {
			t.Fatalf("in another order it came back as\n%s", got)
		}
	})
}

// 100 ft3/min against 50 inches of water: 587.784 W by SI with the conventional
// inch of water, 586.77 W by the customary factor (worked out by hand from NIST
// SP 811's factors and ASTM F558's; the latter from memory).
func TestAirPower(t *testing.T) {
	l := newLab(t)
	if _, err := put(t, l, head+"tern,1,,,air_flow,100,ft3/min,1\ntern,1,,,suction,50,inH2O,0\n", false); err != nil {
		t.Fatal(err)
	}
	rs, err := Load(l, "tern")
	if err != nil {
		t.Fatal(err)
	}
	vs := Values(Quantities(l), rs)
	i := slices.IndexFunc(vs, func(v Value) bool { return v.Quantity == "air_power" })
	if i < 0 || math.Abs(vs[i].SI-587.784) > 1e-3 || math.Abs(vs[i].U-5.87784) > 1e-5 {
		t.Fatalf("air power %+v", vs)
	}
}

// Shares and their propagated uncertainty: 40 of 50 g, 0.1 g each:
// u = sqrt(0.1^2 + (0.8*0.1)^2)/50 (JCGM 100:2008, 5.1.2).
func TestShares(t *testing.T) {
	l := newLab(t)
	rs, err := ReadCSV(l, "x", strings.NewReader(head+"tern,1,carpet,,mass_laid_out,50,g,0.1\ntern,1,carpet,,mass_picked_up,40,g,0.1\ntern,2,carpet,,mass_picked_up,40,g,\ntern,3,,,hair_laid_out,1,g,\ntern,3,,,hair_wrapped,250,mg,\n"))
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]Value{}
	for _, v := range Values(Quantities(l), rs) {
		got[fmt.Sprint(v.Quantity, v.Trial)] = v
	}
	if v := got["pickup_share1"]; math.Abs(v.SI-0.8) > 1e-12 || math.Abs(v.U-math.Sqrt(0.01+0.0064)/50) > 1e-12 {
		t.Errorf("pick-up share %+v", v)
	}
	if v := got["pickup_share2"]; !math.IsNaN(v.SI) || !strings.Contains(v.Reason, "mass_laid_out") {
		t.Errorf("without what was laid out: %+v", v)
	}
	if v := got["hair_wrapped_share3"]; math.Abs(v.SI-0.25) > 1e-12 || !math.IsNaN(v.U) {
		t.Errorf("hair %+v", v)
	}
}

// Levels are averaged by energy: 60 and 66 dB make 10 lg((1e6 + 10^6.6)/2) =
// 63.9635 dB (by hand), equal ones themselves.
func TestLevels(t *testing.T) {
	if m := MeanOf(units.Level, []float64{60, 66}, 0); math.Abs(m.SI-63.963) > 1e-3 || m.Interval.Known() {
		t.Errorf("60 and 66 dB: %+v", m)
	}
	if m := MeanOf(units.Level, []float64{61.5, 61.5, 61.5}, 0); math.Abs(m.SI-61.5) > 1e-12 || math.Abs(m.Interval.Hi-61.5) > 1e-9 {
		t.Errorf("equal levels: %+v", m)
	}
	if m := MeanOf(units.Mass, []float64{1, 2, 3}, 0); m.SI != 2 || m.SD != 1 {
		t.Errorf("masses: %+v", m)
	}
}

// Passes that follow the law give limit and share back; the intervals hold the
// truth in 95 % of drawn sets.
func TestPasses(t *testing.T) {
	law := func(a, p float64, n int) []float64 {
		var out []float64
		for k := range n {
			out = append(out, a*p*math.Pow(1-p, float64(k)))
		}
		return out
	}
	for _, c := range [][2]float64{{0.9, 0.6}, {0.97, 0.9}, {0.5, 0.2}, {1, 0.35}} {
		a, p, why := FitPasses(law(c[0], c[1], 5))
		if why != "" || math.Abs(a.SI-c[0]) > 1e-5 || math.Abs(p.SI-c[1]) > 1e-5 {
			t.Errorf("limit %g, share %g fitted as %.6f, %.6f (%s)", c[0], c[1], a.SI, p.SI, why)
		}
	}
	for _, c := range []struct {
		v    []float64
		want string
	}{{[]float64{0.5, 0.2}, "2 passes were weighed one by one; at least 3 are needed"}, {[]float64{0.1, 0.1, 0.1, 0.1}, "do not level off"}, {[]float64{0.1, 0.2, 0.3}, "do not level off"}} {
		if a, _, why := FitPasses(c.v); !math.IsNaN(a.SI) || !strings.Contains(why, c.want) {
			t.Errorf("%v: %g, %q", c.v, a.SI, why)
		}
	}
	const seed, sets = 3, 2000
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	hold := [2]int{}
	for range sets {
		v := law(0.9, 0.5, 6)
		for k := range v {
			v[k] += 0.01 * rng.NormFloat64()
		}
		a, p, why := FitPasses(v)
		if why != "" {
			t.Fatalf("%v: %s", v, why)
		}
		if a.Interval.Contains(0.9) {
			hold[0]++
		}
		if p.Interval.Contains(0.5) {
			hold[1]++
		}
	}
	// Four standard errors of a share of 0.95 in 2000 are 0.0195.
	for i, n := range hold {
		if got := float64(n) / sets; math.Abs(got-0.95) > 0.0195 {
			t.Errorf("interval %d holds the truth in %.4f of sets, want 0.95 within 0.0195", i, got)
		} else {
			t.Logf("interval %d holds the truth in %.4f of sets (bound 0.95 within 0.0195)", i, got)
		}
	}
}

// 1,000 readings in and out.
func BenchmarkStore(b *testing.B) {
	l := newLab(b)
	var t strings.Builder
	t.WriteString(head)
	for i := range 1000 {
		fmt.Fprintf(&t, "tern,%d,carpet,,suction,%g,kPa,\n", i+1, 1+float64(i)/1000)
	}
	for b.Loop() {
		os.Remove(filepath.Join(l.Dir, File))
		if _, err := put(b, l, t.String(), false); err != nil {
			b.Fatal(err)
		}
		if rs, err := Load(l, ""); err != nil || len(rs) != 1000 {
			b.Fatal(len(rs), err)
		}
	}
}

// Whatever is read as CSV, nothing panics, and what is taken is complete.
func FuzzReadCSV(f *testing.F) {
	for _, s := range []string{head + "tern,1,carpet,2,mass_picked_up,40,g,0.1\n", head + "tern,1,\"car,pet\",,suction,4,kPa,\n", "\xef\xbb\xbf" + head, "robot,trial\n", "\"", head + ",,,,,,,\n"} {
		f.Add(s)
	}
	dir := f.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "lab.yaml"), []byte(labText), 0o644); err != nil {
		f.Fatal(err)
	}
	l, err := lab.Open(dir)
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, s string) {
		rs, err := ReadCSV(l, "x.csv", strings.NewReader(s))
		if err != nil {
			return
		}
		for _, x := range rs {
			if v, _ := x.SI(); x.Robot == "" || x.Trial < 1 || math.IsNaN(v) {
				t.Errorf("took %+v", x)
			}
		}
	})
}

// A robot is no part of the average beside it; robots that cannot be told apart
// share ranks; the uncertainty of the meter does not average out.
func TestStandings(t *testing.T) {
	l := newLab(t)
	rs, err := ReadCSV(l, "x", strings.NewReader(head+
		"tern,1,,,suction,4.0,kPa,0.01\ntern,2,,,suction,4.1,kPa,0.01\ntern,3,,,suction,4.2,kPa,0.01\n"+
		"wren,1,,,suction,2.0,kPa,0.01\nwren,2,,,suction,2.1,kPa,0.01\nwren,3,,,suction,2.2,kPa,0.01\n"+
		"tern,1,,,edge_gap,10,mm,1\ntern,2,,,edge_gap,10,mm,1\ntern,3,,,edge_gap,10,mm,1\nwren,1,,,edge_gap,11,mm,1\nwren,2,,,edge_gap,11,mm,1\nwren,3,,,edge_gap,11,mm,1\n"+
		"tern,1,,,bin_volume,300,mL,\n"))
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]Standing{}
	for _, s := range Standings(Quantities(l), rs) {
		got[s.Robot+" "+s.Of.Name] = s
	}
	if s := got["tern suction"]; s.Rank.Words() != "1 of 2" || math.Abs(s.Others-2100) > 1e-6 || s.OtherNum != 1 {
		t.Errorf("suction: rank %q, others %g of %d", s.Rank.Words(), s.Others, s.OtherNum)
	}
	// Three readings alike, each to 1 mm: the mean is still only known to 1 mm.
	s := got["tern edge_gap"]
	if half := (s.Mean.Interval.Hi - s.Mean.Interval.Lo) / 2; math.Abs(half-1.96e-3) > 1e-5 || s.Rank.Words() != "1 to 2 of 2" {
		t.Errorf("edge gap: half-width %g m, rank %q", half, s.Rank.Words())
	}
	if s := got["tern bin_volume"]; s.Rank.Words() != "" || s.OtherNum != 0 || !math.IsNaN(s.Others) {
		t.Errorf("one reading of one robot: %+v", s)
	}
}

// The share left on a patch becomes a reading of its run, whose uncertainty is that
// of the interval, and the bench takes it by the rules for all readings. The energy
// of a run is found again.
func TestReadingsOfARun(t *testing.T) {
	l := newLab(t)
	k := Key{Robot: l.RobotNames[0], Layout: l.LayoutNames[0], Phase: "mapped", Trial: 2}
	r := LeftReading(k, "stain", "spill", 0.25, stats.Interval{Lo: 0.2304, Hi: 0.2696}, "from pictures")
	if r.Quantity != "stain_left" || r.Value != "25.00" || r.Uncertainty != "1" || r.Surface != "spill" {
		t.Errorf("%+v", r)
	}
	e := Reading{Key: k, Value: "5.5", Unit: "W h", Uncertainty: "0.1"}
	e.Quantity = "energy"
	for _, x := range []Reading{r, e} {
		if _, err := Enter(l, x, false); err != nil {
			t.Fatal(err)
		}
	}
	rs, err := All(l, "")
	if err != nil || len(rs) != 2 {
		t.Fatalf("%v, %v", rs, err)
	}
	if v, u := OfRun(rs, k.Layout, k.Robot, k.Phase, 2, "energy"); math.Abs(v-5.5*3600) > 1e-6 || math.Abs(u-360) > 1e-6 {
		t.Errorf("energy %g J, uncertainty %g", v, u)
	}
	if v, _ := OfRun(rs, k.Layout, k.Robot, k.Phase, 1, "energy"); v == v {
		t.Errorf("another trial has %g J", v)
	}
}

// Firmware sets readings of a robot apart, and its other firmware is neither in the
// average beside it nor a rival; the mean share stays below the whole; what a run
// drew that did not finish is in no mean.
func TestStandingsByFirmware(t *testing.T) {
	l := newLab(t)
	var rs []Reading
	add := func(robot, firmware, quantity string, values ...string) {
		for i, v := range values {
			unit := map[string]string{"suction": "kPa", "energy": "W h", "crevice_share": "%"}[quantity]
			r := Reading{Key: Key{Robot: robot, Firmware: firmware, Trial: i + 1, Quantity: quantity}, Value: v, Unit: unit}
			if quantity == "energy" {
				r.Layout, r.Phase = "den", "mapped"
			}
			rs = append(rs, r)
		}
	}
	add("tern", "1", "suction", "4.0", "4.1", "4.2")
	add("tern", "2", "suction", "6.0", "6.1", "6.2")
	add("wren", "", "suction", "2.0", "2.1", "2.2")
	add("wren", "", "crevice_share", "99", "96", "100")
	add("wren", "", "energy", "3.0", "0.5", "3.2")
	runs := []compare.Run{{ID: "den/wren_mapped_2", Conditions: map[string]string{"outcome": compare.OutcomeTrapped}}, {ID: "den/wren_mapped_3", Conditions: map[string]string{"outcome": compare.OutcomeComplete}}}
	got := map[string]Standing{}
	for _, s := range Standings(Quantities(l), Finished(rs, runs)) {
		got[s.Name()+" "+s.Of.Name] = s
	}
	s := got["tern (firmware 2) suction"]
	if s.Rank.Words() != "1 of 2" || s.OtherNum != 1 || math.Abs(s.Others-2100) > 1e-6 {
		t.Errorf("newer firmware: rank %q, others %g of %d", s.Rank.Words(), s.Others, s.OtherNum)
	}
	if s := got["wren suction"]; s.Rank.Words() != "3 of 3" || s.OtherNum != 1 || math.Abs(s.Others-5100) > 1e-6 { // the mean of 4.1 and 6.1
		t.Errorf("beside two firmwares of one robot: rank %q, others %g of %d", s.Rank.Words(), s.Others, s.OtherNum)
	}
	if s := got["wren crevice_share"]; !(s.Mean.Interval.Hi <= 1 && s.Mean.Interval.Hi > s.Mean.SI) {
		t.Errorf("share %g, interval %v", s.Mean.SI, s.Mean.Interval)
	}
	if s := got["wren energy"]; len(s.Values) != 2 {
		t.Errorf("energy of %d runs, want those that finished: 2", len(s.Values))
	}
}
