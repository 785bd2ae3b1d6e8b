package coverage

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"swathe/geom"
)

// mapleTruth is what testdata/maple says of a recording. The recordings, their
// paths and these figures were drawn by a program that is no part of this
// project (testdata/README.md).
type mapleTruth struct {
	OpenM2       float64             `json:"open_m2"`
	CoveredM2    float64             `json:"covered_m2"`
	CoveredShare float64             `json:"covered_share"`
	SweptM2      float64             `json:"swept_m2"`
	Redundancy   float64             `json:"redundancy"`
	TimeTo       map[string]*float64 `json:"time_to"`
	PlateauS     float64             `json:"plateau_s"`
	DistanceM    float64             `json:"distance_m"`
	Run          struct {
		From float64 `json:"start_s"`
		To   float64 `json:"end_s"`
	} `json:"run"`
}

func mapleTrace(t testing.TB, dir string) (*geom.Trace, mapleTruth) {
	t.Helper()
	var truth mapleTruth
	raw, err := os.ReadFile(filepath.Join(dir, "truth.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, &truth); err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(filepath.Join(dir, "trace.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var ss []geom.Sample
	for _, row := range rows[1:] {
		var v [4]float64
		for i := range v {
			if v[i], err = strconv.ParseFloat(row[i], 64); err != nil {
				t.Fatal(err)
			}
		}
		ss = append(ss, geom.Sample{T: v[0], X: v[1], Y: v[2], Heading: v[3]})
	}
	tr := traceOf(ss)
	tr.Run = geom.Span{From: truth.Run.From, To: truth.Run.To}
	return tr, truth
}

// mapleReach is the reachable floor of a recording, by the GEOS library through
// a Python binding: the open floor shrunk by the body, the part that holds the
// start, widened by the line's farther end (testdata/README.md).
type mapleReach struct {
	ReachableM2 float64 `json:"reachable_m2"`
	Share       float64 `json:"reachable_share"`
	BeyondM2    float64 `json:"covered_beyond_reach_m2"`
}

// maplePlan and mapleRobot are testdata/maple/lab.yaml.
func maplePlan() *geom.Plan {
	p := planOf(rect(0, 0, 3.2, 2.4), piece("cabinet", rect(0, 1.8, 0.9, 2.4)), piece("stool", rect(2.2, 0.7, 2.45, 0.95)))
	top := piece("tabletop", rect(1.3, 1.25, 1.6, 1.55))
	top.Height = 0.55
	p.Overhead = append(p.Overhead, top)
	return p
}

func mapleRobot() geom.Robot {
	return geom.Robot{Name: "siskin", Diameter: 0.32, Height: 0.09, Tools: []geom.Tool{{Name: "brush", Width: 0.16, Ahead: 0.03}}}
}

// The figures of a program that this project did not write, from its true path.
func TestMapleTruth(t *testing.T) {
	dirs, _ := filepath.Glob("../testdata/maple/truth/cluttered/*")
	if len(dirs) < 3 {
		t.Fatalf("testdata/maple has %d true paths, want at least 3", len(dirs))
	}
	for _, dir := range dirs {
		t.Run(filepath.Base(dir), func(t *testing.T) {
			tr, truth := mapleTrace(t, dir)
			res := measure(t, tr, maplePlan(), mapleRobot(), DefaultOptions())
			c := res.Coverage
			within(t, "open m2", res.Floor.OpenM2, truth.OpenM2, 1e-6)
			within(t, "covered share", c.CoveredShare, truth.CoveredShare, 0.001)
			var reach mapleReach
			raw, err := os.ReadFile(filepath.Join(dir, "reachable.json"))
			if err != nil {
				t.Fatal(err)
			}
			if err := json.Unmarshal(raw, &reach); err != nil {
				t.Fatal(err)
			}
			within(t, "reachable m2", res.Floor.ReachableM2, reach.ReachableM2, 0.0005*reach.ReachableM2)
			within(t, "reachable share", c.ReachableShare, reach.Share, 0.001)
			within(t, "beyond reach m2", c.SweptBeyondM2, reach.BeyondM2, 0.003)
			within(t, "redundancy", c.Redundancy, truth.Redundancy, 0.005)
			within(t, "distance", res.Motion.DistanceM, truth.DistanceM, 0.02)
			within(t, "plateau", c.PlateauS, truth.PlateauS, 1)
			for i, lv := range Levels {
				want := truth.TimeTo[strconv.Itoa(lv)]
				if want == nil {
					if c.TimeTo[i] == c.TimeTo[i] {
						t.Errorf("time to %d %%: got %g s, truth never reached it", lv, c.TimeTo[i])
					}
					continue
				}
				within(t, "time to "+strconv.Itoa(lv)+" %", c.TimeTo[i], *want, 1)
			}
		})
	}
}
