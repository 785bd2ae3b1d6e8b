package compare

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"swathe/coverage"
	"swathe/geom"
)

// Together is what several runs of one room clean between them. What is judged is
// the floor that every one of them could reach, so that no further run can make
// the floor that all of them missed larger.
type Together struct {
	Runs        int       `json:"-"`
	OpenM2      float64   `json:"open_m2"`             // open floor that is common to the runs
	ReachableM2 float64   `json:"reachable_m2"`        // of it, what each of the runs could reach
	MissRates   []float64 `json:"missed_share_by_run"` // share of ReachableM2 that each run missed
	// After[k-1] is the share of ReachableM2 covered after any k of the runs
	// together, the mean over every choice of k, so that no order is favoured;
	// AfterChance what it would be if the runs missed at random, each as much as
	// it did.
	After       []float64 `json:"share_after_runs"`
	AfterChance []float64 `json:"share_after_runs_by_chance"`
	// Hits[m] is the share of ReachableM2 that exactly m runs covered, HitsChance
	// the share by chance.
	Hits       []float64 `json:"share_covered_in_n_runs"`
	HitsChance []float64 `json:"share_covered_in_n_runs_by_chance"`

	NeverShare float64 `json:"never_covered_share"` // NeverM2, of the open floor
	NeverM2    float64 `json:"never_covered_m2"`    // reachable for all and covered by none, less SurveyM2
	// SurveyM2 is what is reachable for all and was covered by none, but lies in
	// strips thinner than twice the survey's standard uncertainty: where a wall
	// stands is known no better, so that is survey, not floor.
	SurveyM2    float64 `json:"survey_m2"`
	ChanceShare float64 `json:"never_covered_share_by_chance"` // that chance alone would have left: the product of the miss rates
	// ChronicShare is what is left beyond chance, at least 0: floor that these
	// runs do not come to however often they clean.
	ChronicShare float64 `json:"chronic_share"`
	Telling      bool    `json:"beyond_chance"`          // chance alone would leave less than half of it: a spot missed every time is more likely chronic than not
	Patches      []Patch `json:"never_covered"`          // empty, not nil, if there is none
	RestM2       float64 `json:"never_covered_small_m2"` // of NeverM2, in patches too small to list
}

// Patch is a connected piece of floor that no run covered.
type Patch struct {
	AreaM2 float64 `json:"area_m2"`
	X      float64 `json:"x_m"` // floor: its centroid, or its cell nearest to there
	Y      float64 `json:"y_m"`
	Beside string  `json:"beside"` // what it lies beside: a wall, a thing's name, "corner" or "open floor"
}

// Patches smaller than this are summed up, m2; and of the larger ones at most
// so many are listed.
const (
	minPatch   = 0.0025
	maxPatches = 50
	// surveySigma, m: standard uncertainty of a surveyed corner, as the figures' own.
	surveySigma = 0.005
)

// Cumulate lays the runs' grids over each other. They must be of one room, on
// the same cells; with fewer than two runs there is nothing to lay.
func Cumulate(grids []*coverage.Grid, plan *geom.Plan, robotHeight float64) (*Together, error) {
	n := len(grids)
	if n < 2 {
		return nil, errors.New("floor missed by all needs two or more runs")
	}
	g := grids[0]
	for _, h := range grids[1:] {
		if h.X0 != g.X0 || h.Y0 != g.Y0 || h.Cell != g.Cell || h.Nx != g.Nx || h.Ny != g.Ny {
			return nil, errors.New("the runs were measured in different rooms or with different cells, so their maps cannot be overlaid")
		}
	}
	counts := make([]int, n+1)
	missed := make([]int, n)
	never := make([]bool, len(g.Flags))
	floor, open := 0, 0
	for k := range g.Flags {
		both := coverage.FlagOpen | coverage.FlagReachable
		for _, h := range grids {
			both &= h.Flags[k]
		}
		if both&coverage.FlagOpen != 0 {
			open++
		}
		if both&coverage.FlagReachable == 0 {
			continue
		}
		floor++
		m := 0
		for i, h := range grids {
			if h.Passes[k] > 0 {
				m++
			} else {
				missed[i]++
			}
		}
		counts[m]++
		never[k] = m == 0
	}
	if floor == 0 {
		return nil, errors.New("no floor is reachable in all of the runs")
	}
	t := &Together{Runs: n, Patches: []Patch{}, ReachableM2: float64(floor) * g.Cell * g.Cell, OpenM2: float64(open) * g.Cell * g.Cell}
	ofOpen := float64(floor) / float64(open)
	t.Hits = make([]float64, n+1)
	for m, c := range counts {
		t.Hits[m] = float64(c) / float64(floor)
	}
	for _, c := range missed {
		t.MissRates = append(t.MissRates, float64(c)/float64(floor))
	}
	t.HitsChance = hitsByChance(t.MissRates)
	t.After, t.AfterChance = after(t.Hits), after(t.HitsChance)
	thin := dropThin(g, never, int(math.Ceil(2*surveySigma/g.Cell-1e-9)))
	t.SurveyM2 = float64(thin) * g.Cell * g.Cell
	left := float64(counts[0]-thin) / float64(floor)
	t.NeverM2 = left * t.ReachableM2
	t.NeverShare, t.ChanceShare = left*ofOpen, t.HitsChance[0]*ofOpen
	t.ChronicShare = math.Max(0, t.NeverShare-t.ChanceShare)
	t.Telling = t.ChanceShare < 0.5*t.NeverShare
	t.patches(g, never, plan, robotHeight, besideWithin(grids, plan, robotHeight))
	return t, nil
}

// dropThin takes those cells off a mask that lie in no square of it with so many
// cells a side, and returns how many.
func dropThin(g *coverage.Grid, mask []bool, side int) int {
	keep := make([]bool, len(mask))
	// run[i] is how many cells of the mask end at i in this row, tall[i] how many
	// rows so far have had a whole side of them ending there.
	tall := make([]int, g.Nx)
	for j := 0; j < g.Ny; j++ {
		run := 0
		for i := 0; i < g.Nx; i++ {
			if run++; !mask[j*g.Nx+i] {
				run = 0
			}
			if tall[i]++; run < side {
				tall[i] = 0
			}
			if tall[i] < side {
				continue
			}
			for v := j - side + 1; v <= j; v++ {
				for u := i - side + 1; u <= i; u++ {
					keep[v*g.Nx+u] = true
				}
			}
		}
	}
	n := 0
	for k := range mask {
		if mask[k] && !keep[k] {
			mask[k] = false
			n++
		}
	}
	return n
}

// hitsByChance returns the probabilities that a spot is covered by exactly m of
// runs that miss it independently with the given probabilities.
func hitsByChance(miss []float64) []float64 {
	p := []float64{1}
	for _, q := range miss {
		next := make([]float64, len(p)+1)
		for m, v := range p {
			next[m] += v * q
			next[m+1] += v * (1 - q)
		}
		p = next
	}
	return p
}

// after returns the share covered by k runs together, k = 1 ... n, averaged over
// all choices of k: a spot that m of n runs cover is missed by C(n-m, k) of the
// C(n, k) choices.
func after(hits []float64) []float64 {
	n := len(hits) - 1
	out := make([]float64, n)
	for k := 1; k <= n; k++ {
		for m := 1; m <= n; m++ {
			miss := 1.0
			for i := 0; i < k; i++ {
				miss *= math.Max(0, float64(n-m-i)) / float64(n-i)
			}
			out[k-1] += hits[m] * (1 - miss)
		}
	}
	return out
}

// patches lists the connected pieces of what no run covered, largest first.
func (t *Together) patches(g *coverage.Grid, never []bool, plan *geom.Plan, robotHeight, near float64) {
	a := g.Cell * g.Cell
	seen := make([]bool, len(never))
	var todo, cells []int
	for k := range never {
		if !never[k] || seen[k] {
			continue
		}
		todo, cells = append(todo[:0], k), cells[:0]
		seen[k] = true
		for len(todo) > 0 {
			q := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			cells = append(cells, q)
			i, j := q%g.Nx, q/g.Nx
			visit := func(ok bool, r int) {
				if ok && never[r] && !seen[r] {
					seen[r] = true
					todo = append(todo, r)
				}
			}
			visit(i > 0, q-1)
			visit(i < g.Nx-1, q+1)
			visit(j > 0, q-g.Nx)
			visit(j < g.Ny-1, q+g.Nx)
		}
		if area := float64(len(cells)) * a; area < minPatch {
			t.RestM2 += area
		} else {
			p := middle(g, cells)
			t.Patches = append(t.Patches, Patch{area, p.X, p.Y, mostly(g, cells, plan, robotHeight, near)})
		}
	}
	sort.SliceStable(t.Patches, func(i, j int) bool { return t.Patches[i].AreaM2 > t.Patches[j].AreaM2 })
	for len(t.Patches) > maxPatches {
		last := len(t.Patches) - 1
		t.RestM2 += t.Patches[last].AreaM2
		t.Patches = t.Patches[:last]
	}
}

// besideWithin returns how near to an edge floor lies beside it, m: as of one run
// (coverage.Options.Beside), so far beyond what none of the tools can reach.
func besideWithin(grids []*coverage.Grid, plan *geom.Plan, robotHeight float64) float64 {
	g := grids[0]
	common := func(k int) bool {
		for _, h := range grids {
			if h.Flags[k]&coverage.FlagReachable == 0 {
				return false
			}
		}
		return true
	}
	margin := math.Inf(1)
	for k := range g.Flags {
		i, j := k%g.Nx, k/g.Nx
		// Of the common floor, its rim alone is nearest to anything.
		inner := i > 0 && i < g.Nx-1 && j > 0 && j < g.Ny-1 && common(k-1) && common(k+1) && common(k-g.Nx) && common(k+g.Nx)
		if !inner && common(k) {
			margin = math.Min(margin, plan.Nearest(g.Centre(k), robotHeight).Distance)
		}
	}
	return coverage.DefaultOptions().Beside + math.Max(0, margin)
}

// middle returns the cell of a patch that is nearest to its centroid.
func middle(g *coverage.Grid, cells []int) geom.Point2 {
	var c geom.Point2
	for _, k := range cells {
		c = c.Add(g.Centre(k))
	}
	c = c.Scale(1 / float64(len(cells)))
	best := g.Centre(cells[0])
	for _, k := range cells {
		if q := g.Centre(k); q.Dist(c) < best.Dist(c) {
			best = q
		}
	}
	return best
}

// mostly returns what most of a patch lies beside.
func mostly(g *coverage.Grid, cells []int, plan *geom.Plan, robotHeight, near float64) string {
	n := map[string]int{}
	best := ""
	// A few hundred cells tell as well as all of them.
	step := max(1, len(cells)/300)
	for i := 0; i < len(cells); i += step {
		w := besideOf(plan, g.Centre(cells[i]), robotHeight, near)
		n[w]++
		if n[w] > n[best] || n[w] == n[best] && w < best {
			best = w
		}
	}
	return best
}

func besideOf(plan *geom.Plan, p geom.Point2, robotHeight, near float64) string {
	for _, o := range plan.Overhead {
		if o.Height >= robotHeight && o.Contains(p) {
			return "under " + o.Name
		}
	}
	n := plan.Nearest(p, robotHeight)
	if n.Distance > near {
		return coverage.PlaceOpen
	}
	for _, c := range plan.Corners() {
		if c.Angle < math.Pi && c.At.Dist(p) <= near {
			return coverage.PlaceCorner
		}
	}
	return n.Name
}

// percent writes a share with two digits; what is less than a hundredth of a per
// cent only as that.
func percent(v float64) string {
	switch {
	case v < 1e-4:
		return "less than 0.01 %"
	case v >= 0.0995: // two digits of 100 would be an exponent
		return fmt.Sprintf("%.0f %%", 100*v)
	}
	return fmt.Sprintf("%.2g %%", 100*v)
}

// Words says in a sentence what the runs leave.
func (t *Together) Words() string {
	if t.NeverM2 == 0 {
		return fmt.Sprintf("Together the %d runs covered all floor that is reachable in every run.", t.Runs)
	}
	s := fmt.Sprintf("%s of the open floor is reachable in all %d runs but was covered in none; if each had missed as much at random, it would be %s.",
		percent(t.NeverShare), t.Runs, percent(t.ChanceShare))
	if t.SurveyM2 > 0 {
		s += fmt.Sprintf(" Strips narrower than %.0f mm are not counted: the survey is no more accurate than that.", 2000*surveySigma)
	}
	switch {
	case t.ChronicShare == 0:
		return s + " No spots are missed systematically."
	case !t.Telling:
		return s + " With so few runs, most of this may be chance."
	}
	return s + " Most of this floor is missed systematically."
}
