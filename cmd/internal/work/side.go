package work

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"

	"swathe/cmd/internal/lab"
	"swathe/coverage"
	"swathe/coverage/compare"
	"swathe/geom"
	"swathe/report"
	"swathe/report/compared"
	"swathe/report/figure"
	"swathe/report/words"
)

// MapCell is the cell of a comparison's maps, m: half of what a picture shows.
const MapCell = 0.01

// side is one run of a comparison, read back.
type side struct {
	id    string
	run   *report.Run
	plan  *geom.Plan
	robot geom.Robot
	value compare.Run
	fig   figure.Run
	line  figure.Line
}

// setups reads set-ups once each: most runs of a lab share a few.
type setups struct {
	mu   sync.Mutex
	lab  *lab.Lab
	seen map[string]*setupOnce
}

type setupOnce struct {
	once sync.Once
	then *lab.Lab
	err  error
}

func (s *setups) of(r *report.Run, dir string) (*geom.Plan, *geom.Robot, error) {
	key := r.SetupSHA
	if key == "" {
		key = dir
	}
	s.mu.Lock()
	o := s.seen[key]
	if o == nil {
		o = &setupOnce{}
		s.seen[key] = o
	}
	s.mu.Unlock()
	o.once.Do(func() { o.then, o.err = s.lab.Kept(dir) })
	if o.err != nil {
		return nil, nil, o.err
	}
	lay, robot := o.then.Layouts[r.Layout], o.then.Robots[r.Robot]
	if lay == nil || robot == nil {
		return nil, nil, fmt.Errorf("its saved set-up lacks the layout %q or the robot %q. Measure the recording again with --again", r.Layout, r.Robot)
	}
	return lay.Plan, &robot.Robot, nil
}

// Compare lays results side by side. The error is compare.ErrNothing, with the
// refusals in the document, if fewer than two can be compared.
func Compare(l *lab.Lab, name string, ids []string, opt compare.Options) (*compared.ComparisonInput, error) {
	sides := make([]*side, len(ids))
	errs := make([]error, len(ids))
	sets := &setups{lab: l, seen: map[string]*setupOnce{}}
	each(len(ids), func(i int) { sides[i], errs[i] = readSide(l, sets, ids[i]) })
	var runs []compare.Run
	var unread []compare.Refusal
	byID := map[string]*side{}
	for i, s := range sides {
		if errs[i] != nil {
			unread = append(unread, compare.Refusal{Run: ids[i], Reason: errs[i].Error()})
			continue
		}
		runs = append(runs, s.value)
		byID[s.id] = s
	}
	opt.OutlineSigma = l.Settings.Uncertainty.OutlineSigma
	c, err := compare.New(runs, opt)
	if c != nil {
		c.Refused = append(unread, c.Refused...)
	}
	if err != nil {
		if c == nil {
			return nil, err
		}
		return &compared.ComparisonInput{Doc: compared.NewComparison(name, c, nil, l.ConditionUnit)}, err
	}
	in := &compared.ComparisonInput{Unit: words.Metre}
	var taking []*side
	for k, g := range c.Groups {
		for _, i := range g.Runs {
			s := byID[c.Runs[i].ID]
			s.line.Group = k
			taking = append(taking, s)
			if len(s.line.Min) > 1 {
				in.Line = append(in.Line, s.line)
			}
		}
	}
	sweep := make([]error, len(taking))
	each(len(taking), func(i int) {
		layout, name, _ := strings.Cut(taking[i].id, "/")
		sweep[i] = taking[i].sweep(l.ResultDir(layout, name), taking[0].plan)
	})
	maps := map[string]*side{}
	for i, s := range taking {
		switch {
		case sweep[i] != nil:
			c.Notes = append(c.Notes, fmt.Sprintf("%s has no map: %v.", s.id, sweep[i]))
		default:
			in.Maps, in.IDs = append(in.Maps, s.fig), append(in.IDs, s.id)
			maps[s.id] = s
		}
	}
	in.Doc = compared.NewComparison(name, c, joint(c, maps), l.ConditionUnit)
	return in, nil
}

// joint works out what all runs leave between them, and each group of several.
func joint(c *compare.Comparison, maps map[string]*side) []compared.Joint {
	var out []compared.Joint
	add := func(name string, ids []string) {
		var grids []*coverage.Grid
		var had []string
		var first *side
		for _, id := range ids {
			if s := maps[id]; s != nil {
				grids, had = append(grids, s.fig.Cover.Grid), append(had, id)
				if first == nil {
					first = s
				}
			}
		}
		if len(grids) < 2 {
			return
		}
		if t, err := compare.Cumulate(grids, first.plan, first.robot.Height); err == nil {
			out = append(out, compared.NewJoint(name, had, t))
		} else {
			c.Notes = append(c.Notes, fmt.Sprintf("The floor missed by all runs of %s can't be found: %v.", name, err))
		}
	}
	var all []string
	for _, g := range c.Groups {
		var ids []string
		for _, i := range g.Runs {
			ids = append(ids, c.Runs[i].ID)
		}
		all = append(all, ids...)
		if len(c.Groups) > 1 {
			add(g.Name, ids)
		}
	}
	add(compared.AllRuns, all)
	return out
}

// each calls f(0) ... f(n-1), two at a time.
func each(n int, f func(i int)) {
	var group sync.WaitGroup
	next := make(chan int)
	for range 2 {
		group.Add(1)
		go func() {
			defer group.Done()
			for i := range next {
				f(i)
			}
		}()
	}
	for i := range n {
		next <- i
	}
	close(next)
	group.Wait()
}

func readSide(l *lab.Lab, sets *setups, id string) (*side, error) {
	layout, name, _ := strings.Cut(id, "/")
	dir := l.ResultDir(layout, name)
	r, err := report.ReadRun(dir)
	if err != nil {
		return nil, err
	}
	plan, robot, err := sets.of(r, dir)
	if err != nil {
		return nil, err
	}
	s := &side{id: id, run: r, plan: plan, robot: *robot, value: report.ComparedRun(r)}
	s.value.ID = id
	if s.value.Common, err = report.ReadShared(dir); err != nil {
		return nil, err
	}
	s.line, err = readCurve(filepath.Join(dir, report.CurveFile), r.Run.StartS)
	return s, err
}

// readCurve reads minutes and share of the open floor of curve.csv.
func readCurve(file string, start float64) (figure.Line, error) {
	var line figure.Line
	f, err := os.Open(file)
	if err != nil {
		return line, err
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		return line, fmt.Errorf("%s: %w: measure the recording again with --again", file, err)
	}
	for i, row := range rows {
		if i == 0 || len(row) < 2 || row[1] == "" {
			continue
		}
		t, err1 := strconv.ParseFloat(row[0], 64)
		v, err2 := strconv.ParseFloat(row[1], 64)
		if err1 != nil || err2 != nil {
			return line, fmt.Errorf("%s: line %d has %q and %q in place of numbers; measure the recording again with --again", file, i+1, row[0], row[1])
		}
		line.Min, line.Share = append(line.Min, (t-start)/60), append(line.Share, v)
	}
	return line, nil
}

// sweep sweeps the run's path again, on the cells of a comparison's maps and in
// the room of its first run: one survey, so that maps can be laid over each other.
func (s *side) sweep(dir string, plan *geom.Plan) error {
	trace, err := report.ReadTrace(dir)
	if err != nil {
		return err
	}
	opt := coverage.DefaultOptions()
	opt.Cell = MapCell
	for _, t := range s.run.ToolOffS {
		opt.ToolOff = append(opt.ToolOff, geom.Span{From: t[0], To: t[1]})
	}
	rep, err := coverage.NewRepeat(opt, false)
	if err != nil {
		return err
	}
	lean, err := rep.Measure(trace, plan, &s.robot)
	if err != nil {
		return err
	}
	b := lean.Coverage
	b.ReachableShare, b.CoveredShare, b.MeanPasses = s.run.Coverage.ReachableShare, s.run.Coverage.CoveredShare, s.run.Coverage.MeanPasses
	s.fig = figure.Run{
		Layout: s.run.Layout, Robot: s.run.Robot, Phase: s.run.Phase, Trial: s.run.Trial, Plan: plan, Body: s.robot, Trace: trace,
		Cover:      &coverage.Result{Floor: lean.Floor, Tool: s.run.Tool, Coverage: b, Motion: lean.Motion, Grid: rep.Grid()},
		Mark:       s.run.Mark,
		ShareSigma: s.run.Coverage.U("reachable_share"),
	}
	return nil
}
