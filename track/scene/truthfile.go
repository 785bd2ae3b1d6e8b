package scene

import (
	"bufio"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"

	"swathe/geom"
)

// truthFile is truth.json: areas in m2, times in s, places in m. What was
// never reached is null.
type truthFile struct {
	OpenM2       float64             `json:"open_m2"`
	CoveredM2    float64             `json:"covered_m2"`
	CoveredShare float64             `json:"covered_share"`
	SweptM2      float64             `json:"swept_m2"`
	Redundancy   float64             `json:"redundancy"`
	TimeTo       map[string]*float64 `json:"time_to"`
	PlateauS     *float64            `json:"plateau_s"`
	DistanceM    float64             `json:"distance_m"`
	Events       []map[string]any    `json:"events"`
	Run          map[string]float64  `json:"run"`
}

// WriteTruth writes trace.csv (t_s,x_m,y_m,heading_rad at every frame),
// curve.csv (t_s from the first frame, covered_share) and truth.json into dir,
// which is made. The truth must hold its Sweep.
func WriteTruth(dir string, t *Truth) error {
	if t.Sweep == nil {
		return fmt.Errorf("the truth for %s has no swept floor; work it out with NewSweep first", dir)
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	err := writeLines(filepath.Join(dir, "trace.csv"), "t_s,x_m,y_m,heading_rad", len(t.Times), func(i int) string {
		p := t.Poses[i]
		return fmt.Sprintf("%.5f,%.5f,%.5f,%.5f", t.Times[i], p.X, p.Y, p.Heading)
	})
	if err != nil {
		return err
	}
	w := t.Sweep
	err = writeLines(filepath.Join(dir, "curve.csv"), "t_s,covered_share", len(w.Curve), func(i int) string {
		return fmt.Sprintf("%.5f,%.5f", w.Curve[i].T, w.Curve[i].Share)
	})
	if err != nil {
		return err
	}
	out := truthFile{
		OpenM2: w.OpenM2, CoveredM2: w.CoveredM2, CoveredShare: w.CoveredShare(), SweptM2: w.SweptM2,
		Redundancy: w.Redundancy(), DistanceM: w.DistanceM, TimeTo: map[string]*float64{},
		Run:      map[string]float64{"start_s": t.Run.From, "end_s": t.Run.To},
		PlateauS: maybe(w.TimeTo(0.99*w.CoveredShare(), t.Run.From)),
		Events:   []map[string]any{{"kind": "start", "t": t.Run.From}},
	}
	for _, p := range []int{50, 80, 90, 95, 99} {
		out.TimeTo[strconv.Itoa(p)] = maybe(w.TimeTo(float64(p)/100, t.Run.From))
	}
	for _, e := range t.Events {
		m := map[string]any{"kind": e.Kind, "t": e.Start, "end": e.End, "x": e.X, "y": e.Y, "size": e.Size, "unit": e.Unit}
		if e.Kind == "spin" {
			m["turn_deg"] = e.Size
		}
		out.Events = append(out.Events, m)
	}
	for _, c := range t.Carried {
		p := t.at(c.From)
		out.Events = append(out.Events, map[string]any{"kind": "carried", "t": c.From, "end": c.To, "x": p.X, "y": p.Y})
	}
	data, err := json.MarshalIndent(out, "", " ")
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, "truth.json"), append(data, '\n'), 0o644)
}

// at returns the frame's pose nearest to a time.
func (t *Truth) at(s float64) geom.Pose {
	best := 0
	for i := range t.Times {
		if math.Abs(t.Times[i]-s) < math.Abs(t.Times[best]-s) {
			best = i
		}
	}
	return t.Poses[best].Pose
}

func maybe(x float64) *float64 {
	if math.IsNaN(x) {
		return nil
	}
	return &x
}

func writeLines(file, head string, n int, line func(i int) string) error {
	f, err := os.Create(file)
	if err != nil {
		return err
	}
	w := bufio.NewWriter(f)
	fmt.Fprintln(w, head)
	for i := range n {
		fmt.Fprintln(w, line(i))
	}
	if err := w.Flush(); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}
