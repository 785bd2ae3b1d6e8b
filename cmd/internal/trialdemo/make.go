package trialdemo

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/plan"
)

// Seed is what all of it is drawn from.
const Seed = 20260302

// BenchSheet is the name of the readings that the lab comes with.
const BenchSheet = "bench-sheet.csv"

var rooms = []room{
	{name: "parlour", w: 3.6, h: 2.8, dockY: 1.2, furniture: map[string]rect{"cabinet": {2.9, 1.1, 3.6, 1.6}}, objects: map[string]rect{"sock": {1.5, 0.9, 1.7, 1.0}, "cable": {2.2, 2.1, 2.25, 2.5}}},
	{name: "studio", w: 4.4, h: 3.0, dockY: 1.4, furniture: map[string]rect{"desk": {3.7, 0.7, 4.4, 1.3}, "shelf": {4.05, 2.0, 4.4, 2.6}}, objects: map[string]rect{"toy": {2.0, 1.6, 2.12, 1.72}}},
}

type robot struct {
	name                         string
	is                           nature
	height, brush                float64
	phases                       []string
	firmware                     string
	pick, flow, kPa, dB, wrapped float64 // bench: share a pass, L/s, kPa, dB, share of hair
	watts                        float64 // drawn while it drives
}

var robots = []robot{
	{"alder", nature{radius: 0.17, speed: 0.30, lane: 0.165, drift: 18, careful: true, learns: 0.10}, 0.095, 0.18, []string{"mapping", "mapped"}, "1.4", 0.62, 13.5, 2.4, 61, 0.30, 28},
	{"bryony", nature{radius: 0.165, speed: 0.27, lane: 0.15, drift: 12, careful: true, learns: 0.06}, 0.088, 0.17, []string{"mapping", "mapped"}, "3.0", 0.71, 15.2, 3.1, 65, 0.12, 34},
	{"cicely", nature{radius: 0.175, speed: 0.33, lane: 0.20, drift: 10, learns: 0.12}, 0.101, 0.19, []string{"mapping", "mapped"}, "7.2", 0.55, 11.8, 1.9, 58, 0.45, 25},
	{"dittany", nature{radius: 0.15, speed: 0.31, seconds: 420}, 0.079, 0.16, []string{"single"}, "1.0", 0.48, 9.7, 1.5, 63, 0.38, 21},
}

// newer is the firmware that alder gets after its planned trials; it drives
// straighter and slower.
const newer = "1.5"

// Make writes the lab into dir, which must be there and empty. Its recordings
// are paths, so that they are measured in seconds and without swathe-eye.
func Make(dir string) error {
	files := map[string]string{"lab.yaml": labYAML(), "plan.yaml": planYAML(), "days.yaml": daysYAML()}
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			return err
		}
	}
	l, err := lab.Open(dir)
	if err != nil {
		return err
	}
	p, err := l.Plan([]string{"covered_share"})
	if err != nil {
		return err
	}
	sheets := map[string]*strings.Builder{}
	for _, r := range rooms {
		if err := os.MkdirAll(filepath.Join(dir, "recordings", r.name), 0o755); err != nil {
			return err
		}
		sheets[r.name] = &strings.Builder{}
		sheets[r.name].WriteString("file,date,sample,firmware,mode,outcome,note\n")
	}
	entries := plan.Entries(p, func(string) int { return p.Trials })
	// After the plan, alder's new firmware in the parlour.
	for n := 4; n <= 6; n++ {
		entries = append(entries, plan.Entry{Layout: "parlour", Robot: "alder", Phase: "mapped", Trial: n})
	}
	sheet := benchSheet()
	clock := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	for i, e := range entries {
		if clock.Hour() >= 16 {
			clock = clock.AddDate(0, 0, 1).Add(-7 * time.Hour)
		}
		if e.Run() == "studio/dittany_single_3" {
			continue // still due
		}
		one := one(e, uint64(i))
		sheet += one.energy(e)
		text, row := one.path, one.row
		name := strings.TrimPrefix(e.Run(), e.Layout+"/") + ".csv"
		if err := os.WriteFile(filepath.Join(dir, "recordings", e.Layout, name), []byte(text), 0o644); err != nil {
			return err
		}
		fmt.Fprintf(sheets[e.Layout], "%s,%s,%s\n", name, clock.Format("2006-01-02 15:04"), row)
		clock = clock.Add(20 * time.Minute)
	}
	if err := os.WriteFile(filepath.Join(dir, BenchSheet), []byte(sheet), 0o644); err != nil {
		return err
	}
	for name, s := range sheets {
		if err := os.WriteFile(filepath.Join(dir, "recordings", name, lab.RunSheet), []byte(s.String()), 0o644); err != nil {
			return err
		}
	}
	return nil
}

type made struct {
	path, row, firmware string
	joule               float64
}

// energy is the row of the bench sheet with what a meter between charger and wall
// showed for the run, W h.
func (m made) energy(e plan.Entry) string {
	return fmt.Sprintf("%s,S1,%s,%s,%s,%d,,,energy,%.2f,W h,0.02,,A. Finch\n", e.Robot, m.firmware, e.Layout, e.Phase, e.Trial, m.joule/3600)
}

// one makes a run and its row of the run sheet, behind the date.
func one(e plan.Entry, n uint64) made {
	r := rooms[slices.IndexFunc(rooms, func(r room) bool { return r.name == e.Layout })]
	b := robots[slices.IndexFunc(robots, func(b robot) bool { return b.name == e.Robot })]
	mode, outcome, note := "standard", "complete", ""
	var p plans
	firmware := b.firmware
	switch {
	case e.Robot == "alder" && e.Trial > 3:
		firmware = newer
		b.is.drift, b.is.lane, b.is.speed = 5, 0.155, b.is.speed*0.95
	case e.Run() == "studio/cicely_mapped_2":
		p.stopAfter, outcome, note = 95, "trapped", "caught on the shelf's foot; freed after the recording"
	case e.Run() == "studio/dittany_single_1":
		p.recharge, note = 240, "went to charge and came back"
	case e.Run() == "parlour/bryony_mapped_3":
		mode, note = "quiet", "the mode was left on quiet"
	}
	path, seconds := run(r, b.is, e.Phase, Seed, n, p)
	return made{path, fmt.Sprintf("S1,%s,%s,%s,%s", firmware, mode, outcome, note), firmware, b.watts * seconds}
}

func (f rect) outline() string {
	return fmt.Sprintf("[[%g, %g], [%g, %g], [%g, %g], [%g, %g]]", f.x0, f.y0, f.x1, f.y0, f.x1, f.y1, f.x0, f.y1)
}

func labYAML() string {
	var b strings.Builder
	b.WriteString("# A made-up laboratory: rooms, robots and readings are invented.\nlaboratory:\n  name: Reed Street Test Room\n  address: Reed Street 4, Mill Town\n  location: the same\n  customer: own account\n  method: paths by motion capture; coverage by swathe\n  authorised_by: M. Reed\n  issued: 2026-03-20\n  licence: CC-BY-4.0\nconditions:\n  dust_lot: {type: text}\n  filter: {type: choice, of: [new, used]}\nquantities:\n  cord_pull: {words: Force to pull a cord free, unit: g, of: robot, better: less, range: [0, 2000]}\nlayouts:\n")
	pieces := func(kind string, m map[string]rect, height float64) {
		fmt.Fprintf(&b, "    %s:\n", kind)
		for _, n := range sortedNames(m) {
			fmt.Fprintf(&b, "      %s: {outline: %s, height: %g}\n", n, m[n].outline(), height)
		}
	}
	for _, r := range rooms {
		fmt.Fprintf(&b, "  %s:\n    room: %s\n    dock: {at: [0.2, %g], heading: 0}\n", r.name, rect{0, 0, r.w, r.h}.outline(), r.dockY)
		pieces("obstacles", r.furniture, 0.7)
		pieces("test_objects", r.objects, 0.03)
	}
	b.WriteString("robots:\n")
	for _, r := range robots {
		fmt.Fprintf(&b, "  %s: {diameter: %g, height: %g, tools: {brush: {width: %g, ahead: 0.03}}}\n", r.name, 2*r.is.radius, r.height, r.brush)
	}
	b.WriteString("settings: {cell: 0.01, draws: 20, budget_draws: 10}\n")
	return b.String()
}

func planYAML() string {
	var b strings.Builder
	b.WriteString("# Written before the first run.\nrobots:\n")
	for _, r := range robots {
		fmt.Fprintf(&b, "  %s: {phases: [%s]}\n", r.name, strings.Join(r.phases, ", "))
	}
	fmt.Fprintf(&b, "layouts: [parlour, studio]\nphases: [mapping, mapped]\ntrials: 3\nseed: %d\nfigure: covered_share\nstart: {within: 0.3}\nrequired: [date, operator, sample, firmware, mode]\nconditions: {mode: standard}\n", Seed)
	return b.String()
}

func daysYAML() string {
	var b strings.Builder
	b.WriteString("# What held for all runs of a day, typed once.\n")
	for d := 2; d <= 6; d++ {
		fmt.Fprintf(&b, "2026-03-%02d: {operator: %s, temperature: %.1f, humidity: %d, light: blinds shut, floor: oiled oak, dust_lot: D7, filter: new}\n", d, []string{"M. Reed", "A. Finch"}[d%2], 20.5+0.3*float64(d), 44+d)
	}
	return b.String()
}

// benchSheet draws the readings: three trials on two surfaces, pass by pass.
func benchSheet() string {
	rng := rand.New(rand.NewPCG(Seed, 1))
	var b strings.Builder
	b.WriteString("robot,sample,firmware,layout,phase,trial,surface,pass,quantity,value,unit,uncertainty,date,operator\n")
	for i, r := range robots {
		row := func(trial int, surface string, pass string, quantity string, digits int, v float64, unit, u string) {
			fmt.Fprintf(&b, "%s,S1,,,,%d,%s,%s,%s,%.*f,%s,%s,2026-03-%02d,A. Finch\n", r.name, trial, surface, pass, quantity, digits, v, unit, u, 9+trial)
		}
		for trial := 1; trial <= 3; trial++ {
			for _, s := range []struct {
				name  string
				limit float64
			}{{"carpet", 0.80}, {"hard floor", 0.97}} {
				laid := 50 + 0.1*rng.NormFloat64()
				row(trial, s.name, "", "mass_laid_out", 2, laid, "g", "0.05")
				left := laid * (s.limit + 0.012*rng.NormFloat64())
				for pass := 1; pass <= 4; pass++ {
					got := left * math.Min(0.95, r.pick*(1+0.02*rng.NormFloat64()))
					left -= got
					row(trial, s.name, fmt.Sprint(pass), "mass_picked_up", 2, got, "g", "0.05")
				}
			}
			row(trial, "", "", "hair_laid_out", 3, 0.5, "g", "0.002")
			row(trial, "", "", "hair_wrapped", 3, 0.5*r.wrapped*(1+0.05*rng.NormFloat64()), "g", "0.002")
			row(trial, "", "", "hair_clear_time", 1, 8*r.wrapped*(1+0.1*rng.NormFloat64()), "min", "")
			row(trial, "", "", "air_flow", 2, r.flow*(1+0.01*rng.NormFloat64()), "L/s", "0.1")
			row(trial, "", "", "suction", 3, r.kPa*(1+0.01*rng.NormFloat64()), "kPa", "0.02")
			row(trial, "", "", "sound_power", 1, r.dB+0.4*rng.NormFloat64(), "dB", "0.5")
			row(trial, "", "", "run_time", 1, 88+6*float64(i)+2*rng.NormFloat64(), "min", "")
			row(trial, "", "", "energy", 1, 27+2*float64(i)+0.5*rng.NormFloat64(), "W h", "0.1")
		}
		row(1, "", "", "bin_volume", 0, 380-20*float64(i), "mL", "5")
		row(1, "", "", "body_height", 1, r.height*1000, "mm", "0.2")
		if i < 3 {
			row(1, "", "", "cord_pull", 0, 400+50*float64(i), "g", "10")
		}
	}
	return b.String()
}

func sortedNames(m map[string]rect) []string {
	var out []string
	for n := range m {
		out = append(out, n)
	}
	slices.Sort(out)
	return out
}
