// Package trial measures drawn recordings whose truth is known and says how far
// off the measurement was: for the accuracy tests and for `swathe prove`.
package trial

import (
	"context"
	"math"
	"runtime"
	"sort"
	"sync"

	"swathe/geom"
	"swathe/track/scene"
	"swathe/track/sight"
)

// Seen is what looking at a drawn recording gave.
type Seen struct {
	Sightings   []sight.Sighting
	TestObjects []sight.ObjectSight // of the plan's test objects
	Width       sight.Width         // of the robot, as it shows
}

// Entry is what a lab knows of a scene that is looked at.
type Entry struct {
	Robot     geom.Robot          // as in lab.yaml
	Camera    *geom.Camera        // as solved
	Reference *sight.Plane        // background of the set-up's day; nil: none was kept
	Rate      float64             // looks a second
	Tell      func(share float64) // is told the share that is done; nil: nobody is
}

// Look draws a scene frame by frame and looks at it without encoding it, as the
// eye would. ctx stops it.
func Look(ctx context.Context, s *scene.Scene, e Entry) (*Seen, error) {
	r, err := scene.NewRenderer(s)
	if err != nil {
		return nil, err
	}
	halved := sight.Halvings(e.Camera.Width)
	set := sight.NewSetup(e.Camera, s.Plan, e.Robot, halved)
	times := r.Times()
	w, h := s.Camera.Width, s.Camera.Height
	n := min(25, len(times))
	var at []int
	for k := 0; k < n; k++ {
		at = append(at, k*len(times)/n)
	}
	samples := make([]*sight.Picture, n)
	draw := newPool(r, w, h, halved)
	draw.each(at, times, func(i int, p *sight.Picture) bool { samples[i] = p.Clone(); return true })
	bg := sight.Learn(&set, samples, e.Reference)
	watcher := sight.NewWatcher(set, bg)
	samples = nil
	pick := sight.NewPicker(e.Rate, s.Timing.FPS)
	at = at[:0]
	for i, t := range times {
		if pick.Take(t) {
			at = append(at, i)
		}
	}
	var out, revised []sight.Sighting
	draw.each(at, times, func(i int, p *sight.Picture) bool {
		q := watcher.Look(p)
		q.Frame = at[i]
		out = append(out, q)
		revised = append(revised, watcher.Revised(false)...)
		if e.Tell != nil {
			e.Tell(float64(len(out)) / float64(len(at)))
		}
		return ctx.Err() == nil
	})
	sight.Revise(out, append(revised, watcher.Revised(true)...))
	if until, ok := watcher.Again(); ok {
		lookAgain(watcher, draw, at, times, until, out)
	}
	sight.Merge(out, watcher.Turns())
	if at, ok := watcher.Standing(); ok {
		sight.NoteStanding(out, at)
	}
	return &Seen{out, watcher.TestObjects(), bg.Width}, ctx.Err()
}

// lookAgain looks at a run's beginning once more.
func lookAgain(w *sight.Watcher, draw *pool, at []int, times []float64, until float64, out []sight.Sighting) {
	n := 0
	for n < len(at) && times[at[n]] <= until+sight.AgainPast {
		n++
	}
	var seen, revised []sight.Sighting
	draw.each(at[:n], times, func(_ int, p *sight.Picture) bool {
		seen = append(seen, w.Look(p))
		revised = append(revised, w.Revised(false)...)
		return true
	})
	sight.Revise(seen, append(revised, w.Revised(true)...))
	for i, s := range seen {
		if s.Found && (s.Settles || !out[i].Found) && s.T <= until {
			s.Frame = out[i].Frame
			out[i] = s
		}
	}
}

// pool draws frames on all cores and hands them on in order.
type pool struct {
	r      *scene.Renderer
	w, h   int
	halved int
}

func newPool(r *scene.Renderer, w, h, halved int) *pool { return &pool{r, w, h, halved} }

func (p *pool) each(at []int, times []float64, take func(i int, pic *sight.Picture) bool) {
	workers := runtime.GOMAXPROCS(0)
	type slot struct {
		ready chan *sight.Picture
		bgr   []byte
		pic   *sight.Picture
	}
	slots := make([]slot, 2*workers)
	for i := range slots {
		slots[i] = slot{ready: make(chan *sight.Picture, 1), bgr: make([]byte, 3*p.w*p.h)}
	}
	jobs := make(chan int)
	var wg sync.WaitGroup
	for k := 0; k < workers; k++ {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := range jobs {
				s := &slots[i%len(slots)]
				p.r.Draw(at[i], s.bgr)
				s.pic = sight.FromBGR(s.bgr, p.w, p.h, times[at[i]], s.pic)
				pic := s.pic
				for k := 0; k < p.halved; k++ {
					pic = &sight.Picture{T: pic.T, Y: pic.Y.Shrink(2, sight.Plane{}), U: pic.U.Shrink(2, sight.Plane{}), V: pic.V.Shrink(2, sight.Plane{})}
				}
				s.ready <- pic
			}
		}()
	}
	sent := 0
	for ; sent < len(at) && sent < len(slots); sent++ {
		jobs <- sent
	}
	for i := range at {
		pic := <-slots[i%len(slots)].ready
		if !take(i, pic) {
			break
		}
		if sent < len(at) {
			jobs <- sent
			sent++
		}
	}
	close(jobs)
	wg.Wait()
}

// Score says how far a trace is from the truth.
type Score struct {
	Looks, Found int
	PathRMS      float64 // m, over samples seen or bridged, while the robot is not carried
	SeenRMS      float64 // m, over samples seen
	P95, Max     float64 // m, over samples seen or bridged
	// Within2Sigma is the share of the coordinates of those that lie within two sigma
	// of the truth, 0.954 of normal errors: the mean over Places stretches of the path,
	// each as long as the robot is wide. At one place light, floor and furniture bend
	// all outlines alike, so a rest of a minute is one error, not a thousand.
	Within2Sigma float64
	Places       int
	Survey       float64 // share of sigma squared that is the survey's, one error for all places
	// Ratios are the errors of each coordinate over sigma, of samples seen: two thirds
	// must be below 1 and nineteen in twenty below 2, pooled over recordings.
	Ratios       []float64
	HeadingRMS   float64    // rad, over the run, samples with a heading from texture or marker; NaN if none
	TextureShare float64    // share of the run's samples in sight whose heading rests on texture or marker
	TravelRMS    float64    // rad, of the headings from travel; NaN if none
	HeadingIn    [2]float64 // share of all headings within one sigma and within two
	LostSight    float64    // share of samples lost although half of the robot's top was in sight
	StartErr     float64    // s, measured less true
	EndErr       float64
	Carried      int         // samples called carried that were not, and the other way round
	Width        sight.Width // of the robot, as it showed; not known of a recording that was measured through the eye
}

// Judge compares a trace with a scene's truth.
func Judge(tr *geom.Trace, truth *scene.Truth, path scene.Path) Score {
	sc := Score{Looks: len(tr.Samples), HeadingRMS: math.NaN(), TravelRMS: math.NaN()}
	var q, qs, qh, nh, qt, nt, n, ns, run, tex float64
	var in Places
	var all []float64
	for _, s := range tr.Samples {
		if s.State == geom.Seen {
			sc.Found++
		}
		held := inSpans(truth.Carried, s.T)
		if (s.State == geom.Carried) != held {
			sc.Carried++
		}
		if held {
			continue
		}
		if s.State == geom.Lost {
			// Not while somebody's hands come to it or leave it.
			if visibleAt(truth, s.T) > 0.5 && !inSpans(truth.Carried, s.T-0.5) && !inSpans(truth.Carried, s.T+0.5) {
				sc.LostSight++
			}
			continue
		}
		if s.State == geom.Carried {
			continue
		}
		p := path.At(s.T)
		e := math.Hypot(s.X-p.X, s.Y-p.Y)
		all = append(all, e)
		q += e * e
		n++
		if s.State == geom.Seen {
			qs += e * e
			sc.Ratios = append(sc.Ratios, math.Abs(s.X-p.X)/s.Sigma, math.Abs(s.Y-p.Y)/s.Sigma)
			ns++
		}
		in.Add(p.X, p.Y, math.Abs(s.X-p.X) <= 2*s.Sigma, math.Abs(s.Y-p.Y) <= 2*s.Sigma)
		if s.T < truth.Run.From || s.T > truth.Run.To || math.IsNaN(s.Heading) {
			continue
		}
		if s.State == geom.Seen {
			run++
			if s.Source != geom.HeadingTravel {
				tex++
			}
		}
		d := geom.WrapAngle(s.Heading - p.Heading)
		for k := range sc.HeadingIn {
			if math.Abs(d) <= float64(k+1)*s.SigmaH {
				sc.HeadingIn[k]++
			}
		}
		if s.Source == geom.HeadingTravel {
			qt += d * d
			nt++
		} else {
			qh += d * d
			nh++
		}
	}
	sort.Float64s(all)
	if len(all) > 0 {
		sc.P95, sc.Max = all[len(all)*95/100], all[len(all)-1]
	}
	sc.PathRMS, sc.SeenRMS = math.Sqrt(q/n), math.Sqrt(qs/ns)
	sc.Within2Sigma, sc.Places = in.Share()
	sc.LostSight /= float64(len(tr.Samples))
	if nh > 0 {
		sc.HeadingRMS = math.Sqrt(qh / nh)
	}
	if nt > 0 {
		sc.TravelRMS = math.Sqrt(qt / nt)
	}
	for k := range sc.HeadingIn {
		sc.HeadingIn[k] /= nh + nt
	}
	if run > 0 {
		sc.TextureShare = tex / run
	}
	sc.StartErr, sc.EndErr = tr.Run.From-truth.Run.From, tr.Run.To-truth.Run.To
	return sc
}

// placeApart is how far the true places of one stretch may lie apart, m: what a
// robot is wide, more or less.
const placeApart = 0.3

// Places counts what holds, place by place of a path.
type Places struct {
	x, y     float64 // where the present one begins, m
	yes, all float64 // at the present one
	sum      float64 // of the shares of those before
	n        int
}

// Add counts what holds of a sample whose true place is (x, y) m.
func (c *Places) Add(x, y float64, holds ...bool) {
	if c.all == 0 || math.Hypot(x-c.x, y-c.y) > placeApart {
		c.sum, c.n = c.sum+c.yes/math.Max(1, c.all), c.n+1
		c.x, c.y, c.yes, c.all = x, y, 0, 0
	}
	for _, h := range holds {
		c.all++
		if h {
			c.yes++
		}
	}
}

// Share is the mean over the places of the share that holds there, and how many there are.
func (c *Places) Share() (mean float64, n int) {
	return (c.sum + c.yes/math.Max(1, c.all)) / float64(c.n), c.n
}

func inSpans(s []geom.Span, t float64) bool {
	for _, x := range s {
		if x.Contains(t) {
			return true
		}
	}
	return false
}

func visibleAt(tr *scene.Truth, t float64) float64 {
	i := sort.SearchFloat64s(tr.Times, t)
	if i >= len(tr.Visible) {
		i = len(tr.Visible) - 1
	}
	if i < 0 {
		return 1
	}
	return tr.Visible[i]
}
