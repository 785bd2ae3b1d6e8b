//go:build cgo && customenv

package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"sync"
	"time"

	"swathe/geom"
	"swathe/track"
	"swathe/track/cv"
	"swathe/track/sight"
)

// sampleBytes bounds the memory for the frames that the background is made of.
const sampleBytes = 84 << 20

// part is one recording of the run.
type part struct {
	file   string
	info   cv.Info
	offset float64 // s of its first frame in the run
}

// looker looks at all recordings of a run, for one request.
type looker struct {
	req    track.Request
	parts  []part
	halved int // how often pictures are halved before they are looked at
	set    sight.Setup
	until  time.Time // from then on no more frames are sampled; zero: no limit

	// Frames are sampled in several goroutines, and each says what it does:
	// mu guards what follows.
	mu     sync.Mutex
	out    *json.Encoder // replies to whoever asked
	flush  func() error  // sends what out has written
	said   time.Time     // when a reply was last sent
	was    string        // what that reply said is being done
	stages []track.Stage
	kept   *unfinished // what is kept in case the look is stopped; nil: nothing is
	answer io.Writer   // where out writes, for replies that are not to be kept
}

// signEvery is how often a sign of life is given where nothing else is said.
const signEvery = time.Second

// doing tells whoever waits what is done next, between units of work: a program
// that says nothing for a minute is taken for stuck and stopped, and what was said
// last is then the reason given.
func (l *looker) doing(what string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.out == nil || time.Since(l.said) < signEvery && what == l.was {
		return true
	}
	l.said, l.was = time.Now(), what
	// An error means that nobody reads: then this program is about to be stopped.
	if l.out.Encode(track.Reply{Doing: what}) == nil {
		l.flush()
	}
	return true
}

// failure ends the look with a reason for the tester.
type failure struct{ track.FailReply }

func (f failure) Error() string { return f.Message }

// inDecoders is how many calls into the C decoders are under way at a time. Each
// occupies one of the GOMAXPROCS slots in which Go code may run. With so many slots
// more, the runtime leaves them theirs; without, it takes the slot away and hands it
// back at every frame: five minutes of 1920 x 1080 at 30 frames a second, measured in
// 33 s, took 38 s.
const inDecoders = 3

func look([]string) error {
	debug.SetGCPercent(40)
	runtime.GOMAXPROCS(runtime.GOMAXPROCS(0) + inDecoders)
	var req track.Request
	if err := json.NewDecoder(bufio.NewReader(os.Stdin)).Decode(&req); err != nil {
		return fmt.Errorf("the job cannot be read: %w", err)
	}
	w := bufio.NewWriterSize(os.Stdout, 1<<16)
	l := &looker{req: req, out: json.NewEncoder(w), flush: w.Flush, kept: newUnfinished(req), answer: w}
	if l.kept != nil {
		l.out = json.NewEncoder(io.MultiWriter(w, l.kept))
	}
	err := l.run()
	var f failure
	if errors.As(err, &f) {
		err = l.out.Encode(track.Reply{Fail: &f.FailReply})
	}
	if e := w.Flush(); err == nil {
		err = e
	}
	return err
}

func (l *looker) stage(name string, since time.Time) {
	d := time.Since(since).Seconds()
	for i := range l.stages {
		if l.stages[i].Name == name {
			l.stages[i].Seconds += d
			return
		}
	}
	l.stages = append(l.stages, track.Stage{Name: name, Seconds: d})
}

func (l *looker) run() error {
	t0 := time.Now()
	if err := l.open(); err != nil {
		return err
	}
	samples, err := l.sample()
	if err != nil {
		return err
	}
	l.stage("samples", t0)
	t0 = time.Now()
	cam := geom.NewCamera(l.req.Camera.Width, l.req.Camera.Height, l.req.Camera.Lens, l.req.Camera.R, l.req.Camera.Centre)
	l.set = sight.NewSetup(cam, &l.req.Plan, l.req.Robot, l.halved)
	reference, err := l.reference()
	if err != nil {
		return err
	}
	bg := sight.LearnPaced(&l.set, samples, reference, l.doing)
	w := sight.NewWatcher(l.set, bg)
	stopped := l.kept.resume(w, l.answer)
	if stopped == nil && l.kept.there() { // what does not fit may have been put into it half
		bg = sight.LearnPaced(&l.set, samples, reference, l.doing)
		w = sight.NewWatcher(l.set, bg)
	}
	samples = nil
	debug.FreeOSMemory()
	l.stage("background", t0)
	if stopped == nil {
		err = l.begun(bg)
	} else {
		err = l.out.Encode(track.Reply{Resumed: &stopped.At.T})
	}
	if err != nil {
		return err
	}
	err = l.watch(w, stopped)
	if errors.Is(err, errDamaged) {
		l.req.Threads = 1
		l.kept.drop()
		if err = l.out.Encode(track.Reply{Again: true}); err == nil {
			if err = l.warnOfWidth(bg); err == nil {
				err = l.watch(sight.NewWatcher(l.set, bg), nil)
			}
		}
	}
	return err
}

// begun says what is known once the room has been learned.
func (l *looker) begun(bg *sight.Background) error {
	first, total := l.parts[0].info, 0.0
	for _, p := range l.parts {
		total += p.info.Length()
	}
	if math.IsNaN(total) {
		total = 0
	}
	if err := l.out.Encode(track.Reply{Open: &track.OpenReply{Width: first.Width, Height: first.Height, Duration: total,
		FPS: first.FPS, Noise: bg.Noise, Healed: len(bg.Healed)}}); err != nil {
		return err
	}
	return l.warnOfWidth(bg)
}

func (l *looker) warnOfWidth(bg *sight.Background) error {
	m := bg.Width.Warning(l.req.Robot)
	if m == "" {
		return nil
	}
	return l.out.Encode(track.Reply{Warning: m})
}

// errDamaged says that something could not be decoded by several threads:
// where, is certain only with one.
var errDamaged = errors.New("damaged")

// open opens every part once, to know its size before work begins.
func (l *looker) open() error {
	for _, f := range l.req.Files {
		st, err := os.Stat(f)
		if err != nil {
			return failure{track.FailReply{Kind: track.NotReadable, File: f, Message: "it cannot be opened: " + err.Error()}}
		}
		if st.Size() == 0 {
			return failure{track.FailReply{Kind: track.NotReadable, File: f, Message: "the file is empty; copy the recording again from the camera"}}
		}
		r, err := cv.Open(f, 1)
		if err != nil {
			return failure{track.FailReply{Kind: track.NotReadable, File: f, Message: err.Error() + "; copy the recording again from the camera, or convert it to mp4 (H.264)"}}
		}
		info := r.Info()
		r.Close()
		if info.Width != l.req.Camera.Width || info.Height != l.req.Camera.Height {
			return failure{track.FailReply{Kind: track.WrongSize, File: f, Message: fmt.Sprintf(
				"its frames are %d x %d px, but the camera's entry in lab.yaml says frame: [%d, %d]. Record at that size, or survey the marks in a frame of this recording",
				info.Width, info.Height, l.req.Camera.Width, l.req.Camera.Height)}}
		}
		l.parts = append(l.parts, part{file: f, info: info})
	}
	l.halved = sight.Halvings(l.req.Camera.Width) + l.req.Halve
	return nil
}

// sample takes frames spread over all parts: key frames, for these decode
// alone; of a recording with few of them, frames between as well.
func (l *looker) sample() ([]*sight.Picture, error) {
	size := l.req.Camera.Width * l.req.Camera.Height * 3 / 2 >> (2 * l.halved)
	want := max(7, min(25, sampleBytes/size))
	var out []*sight.Picture
	for _, p := range l.parts {
		n := max(3, want/len(l.parts))
		s := l.sampleKeys(p, n)
		if len(s) < min(n, 12) {
			s = l.sampleAll(p, n)
		}
		if len(s) == 0 {
			return nil, failure{track.FailReply{Kind: track.NotReadable, File: p.file,
				Message: "no frame in it can be decoded; copy the recording again from the camera"}}
		}
		out = append(out, s...)
	}
	return out, nil
}

const reading = "reading frames from all over the recording"

// sampleReaders is how many readers take key frames side by side: each decodes
// on its own what the others need not wait for.
const sampleReaders = 2

func (l *looker) sampleKeys(p part, n int) []*sight.Picture {
	length := p.info.Length()
	if math.IsNaN(length) {
		return nil
	}
	at := make([]float64, n) // where to go, s; the first is where the file begins
	for k := 1; k < n; k++ {
		at[k] = length * (float64(k) + 0.3) / float64(n)
	}
	var found [sampleReaders][]*sight.Picture
	var wait sync.WaitGroup
	for i := range found {
		wait.Add(1)
		go func() {
			defer wait.Done()
			found[i] = l.keysAt(p, at[i*n/sampleReaders:(i+1)*n/sampleReaders])
		}()
	}
	wait.Wait()
	var out []*sight.Picture
	for _, s := range found {
		for _, pic := range s {
			if len(out) == 0 || pic.T > out[len(out)-1].T+0.05 {
				out = append(out, pic)
			}
		}
	}
	return out
}

// keysAt takes the whole key frame before each of the times.
func (l *looker) keysAt(p part, at []float64) (out []*sight.Picture) {
	r, err := cv.Open(p.file, 1)
	if err != nil {
		return nil
	}
	defer r.Close()
	lastT := math.Inf(-1)
	for i, t := range at {
		if l.doing(reading); !l.until.IsZero() && time.Now().After(l.until) {
			return out
		}
		if t > 0 {
			if i == 0 { // a Seek counts from the first frame, which must be known
				f, err := r.Next()
				if err != nil || f == nil {
					return out
				}
				f.Free()
			}
			if r.Seek(t) != nil {
				return out
			}
		}
		f, err := r.Next()
		if err != nil || f == nil {
			return out
		}
		if !f.Bad && f.T > lastT+0.05 {
			if pic, err := f.Picture(l.halved); err == nil {
				c := pic.Clone()
				c.T = f.T
				out = append(out, c)
				lastT = f.T
			}
		}
		f.Free()
	}
	return out
}

// longScan is the longest recording that is decoded whole once more, s: a
// longer one without key frames has its first minutes stand for it.
const longScan = 300

func (l *looker) sampleAll(p part, n int) (out []*sight.Picture) {
	r, err := cv.Open(p.file, max(1, l.req.Threads))
	if err != nil {
		return nil
	}
	defer r.Close()
	length := p.info.Length()
	if math.IsNaN(length) || length > longScan {
		length = longScan
	}
	next := 0.0
	for {
		l.doing(reading)
		f, err := r.Next()
		if err != nil || f == nil || len(out) > 3*n {
			return thin(out, n)
		}
		if !f.Bad && f.T >= next {
			if pic, err := f.Picture(l.halved); err == nil {
				out = append(out, pic.Clone())
				next += length / float64(n)
			}
		}
		f.Free()
	}
}

func thin(s []*sight.Picture, n int) []*sight.Picture {
	if len(s) <= n {
		return s
	}
	out := make([]*sight.Picture, 0, n)
	for k := 0; k < n; k++ {
		out = append(out, s[k*len(s)/n])
	}
	return out
}

// watch goes through all frames of all parts, or, of a look that was stopped,
// through those that are left.
func (l *looker) watch(w *sight.Watcher, stopped *far) error {
	if mk := l.req.Robot.Marker; mk != nil {
		m, err := cv.NewMarkerFinder(mk.Dictionary, mk.ID)
		if err != nil {
			return fmt.Errorf("the robot's marker: %w", err)
		}
		defer m.Close()
		w.Marker = m
	}
	end := track.EndReply{}
	offset, first := 0.0, 0
	if stopped != nil {
		first, end.Frames, end.Bad = stopped.Part, stopped.Frames, stopped.Bad
	}
	for i := first; i < len(l.parts); i++ {
		p := &l.parts[i]
		var behind *cv.Place
		if stopped != nil && i == first {
			offset, behind = stopped.Offset, &stopped.At
		} else if i > 0 {
			gap := 1.0 / 30
			if p.info.FPS > 0 {
				gap = 1 / p.info.FPS
			}
			if i-1 < len(l.req.Gaps) && l.req.Gaps[i-1] != nil {
				gap = *l.req.Gaps[i-1]
			}
			offset += gap
		}
		p.offset = offset
		last, err := l.watchPart(w, i, behind, &end)
		if err != nil {
			return err
		}
		offset += last
	}
	if err := l.revised(w, true); err != nil {
		return err
	}
	if until, ok := w.Again(); ok {
		if err := l.again(w, until); err != nil {
			return err
		}
		end.LookedAgain = until
	}
	t0 := time.Now()
	l.doing("working out how the robot was turned")
	turns := w.Turns()
	for len(turns) > 0 {
		n := min(1000, len(turns))
		if err := l.out.Encode(track.Reply{Turns: turns[:n]}); err != nil {
			return err
		}
		turns = turns[n:]
	}
	if at, ok := w.Standing(); ok {
		if err := l.out.Encode(track.Reply{Standing: &at}); err != nil {
			return err
		}
	}
	l.stage("turns", t0)
	for _, p := range w.TestObjects() {
		if err := l.out.Encode(track.Reply{TestObject: &p}); err != nil {
			return err
		}
	}
	end.Duration = offset
	if fps := l.parts[len(l.parts)-1].info.FPS; fps > 0 {
		end.Duration += 1 / fps
	}
	end.Stages = l.stages
	return l.out.Encode(track.Reply{End: &end})
}

// again looks at the run's beginning once more.
func (l *looker) again(w *sight.Watcher, until float64) error {
	t0 := time.Now()
	defer func() { l.stage("look again", t0) }()
	var seen, revised []sight.Sighting
	for _, p := range l.parts {
		if p.offset > until+sight.AgainPast {
			break
		}
		s, r, err := l.partAgain(w, p, until)
		if err != nil {
			return err
		}
		seen, revised = append(seen, s...), append(revised, r...)
	}
	sight.Revise(seen, append(revised, w.Revised(true)...))
	for _, s := range seen {
		if s.Found && s.T <= until {
			s.Again = true
			if err := l.out.Encode(track.Reply{Sighting: &s}); err != nil {
				return err
			}
		}
	}
	return nil
}

func (l *looker) partAgain(w *sight.Watcher, p part, until float64) (seen, revised []sight.Sighting, err error) {
	r, err := cv.OpenAhead(p.file, max(1, l.req.Threads), sight.NewPicker(l.req.Rate, p.info.FPS), nil)
	if err != nil {
		return nil, nil, failure{track.FailReply{Kind: track.NotReadable, File: p.file, Message: err.Error()}}
	}
	defer r.Close()
	shown := math.Inf(-1)
	for f := r.Next(); f != nil; f = r.Next() {
		late := f.T+p.offset > until+sight.AgainPast
		var s *sight.Sighting
		if !late && f.T > shown {
			if shown = f.T; !f.Bad {
				s = l.one(w, p, f, 0)
			}
		}
		f.Free()
		if late {
			break
		}
		l.doing("looking at the beginning again, as the robot's colours are known now")
		if s != nil {
			seen = append(seen, *s)
		}
		revised = append(revised, w.Revised(false)...)
	}
	return seen, revised, nil
}

// revised says which frames the run decided otherwise than they were told.
func (l *looker) revised(w *sight.Watcher, end bool) error {
	for _, s := range w.Revised(end) {
		if err := l.out.Encode(track.Reply{Sighting: &s}); err != nil {
			return err
		}
	}
	return nil
}

// leastCut is how much earlier, s, than its container says a recording must end for a
// warning, beyond a frame or a fiftieth: sound may go on for some tenths.
const leastCut = 0.5

func (l *looker) watchPart(w *sight.Watcher, i int, behind *cv.Place, end *track.EndReply) (length float64, err error) {
	p := l.parts[i]
	r, err := cv.OpenAhead(p.file, max(1, l.req.Threads), sight.NewPicker(l.req.Rate, p.info.FPS), behind)
	if err != nil && behind != nil {
		return 0, errDamaged // in which one cannot go about; it is read from its start
	}
	if err != nil {
		return 0, failure{track.FailReply{Kind: track.NotReadable, File: p.file, Message: err.Error()}}
	}
	defer r.Close()
	shown := math.Inf(-1) // s, until when frames were looked at
	if behind != nil {
		shown = behind.T
	}
	for {
		t0 := time.Now()
		f := r.Next()
		l.stage("decode (waited for)", t0)
		if f == nil {
			break
		}
		if f.T <= shown { // times run back in a damaged file only
			f.Free()
			end.Bad++
			continue
		}
		shown = f.T
		t0 = time.Now()
		s, at := l.one(w, p, f, end.Frames), cv.Place{T: f.T, Index: f.Index}
		f.Free()
		l.stage("look", t0)
		if s == nil {
			l.doing("reading on to what is to be measured")
			continue
		}
		if err := l.out.Encode(track.Reply{Sighting: s}); err != nil {
			return 0, err
		}
		if err := l.revised(w, false); err != nil {
			return 0, err
		}
		l.kept.keep(far{Part: i, At: at, Offset: p.offset, Frames: end.Frames, Bad: end.Bad, Stages: l.stages}, w)
		// Whoever waits wants to see it move, however slowly.
		if time.Since(l.said) > time.Second/2 {
			l.said = time.Now()
			if err := l.flush(); err != nil {
				return 0, err
			}
		}
	}
	if r.Damaged() {
		return 0, errDamaged
	}
	count, bad, last := r.Count()
	end.Frames += count
	end.Bad += bad
	frame := 1.0 // s; containers that give no rate are of few frames a second
	if p.info.FPS > 0 {
		frame = 1 / p.info.FPS
	}
	if want := p.info.Length(); !math.IsNaN(want) && want-last > leastCut+math.Max(frame, 0.02*want) {
		if err := l.out.Encode(track.Reply{Warning: fmt.Sprintf(
			"%s is cut short: it should last %.1f s but ends at %.1f s; it was measured up to there", filepath.Base(p.file), want, last)}); err != nil {
			return 0, err
		}
	}
	return last, nil
}

func (l *looker) one(w *sight.Watcher, p part, f *cv.Frame, base int) *sight.Sighting {
	t := f.T + p.offset
	if l.req.Start != nil && t < *l.req.Start || l.req.End != nil && t > *l.req.End {
		return nil
	}
	s := sight.Sighting{T: t, Why: sight.WhyBad}
	if !f.Bad {
		pic, err := f.Picture(l.halved)
		if err == nil {
			pic.T = t
			s = w.Look(pic)
			if err := l.debug(w, pic, s); err != nil {
				fmt.Fprintln(os.Stderr, err)
				l.req.Debug = nil
			}
		}
	}
	s.Frame = base + f.Index
	return &s
}
