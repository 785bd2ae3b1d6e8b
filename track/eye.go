package track

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"
	"sync"
	"time"

	"swathe/geom"
	"swathe/track/sight"
)

// FindEye returns the path of swathe-eye: named by the environment variable
// SWATHE_EYE, beside the running program, or on PATH. The error is a *Failure
// that says how to get it.
func FindEye() (string, error) {
	if p, ok := FindProgram("swathe-eye", "SWATHE_EYE"); ok {
		return p, nil
	}
	return "", &Failure{Kind: EyeMissing, File: "swathe-eye", T: math.NaN(),
		Message: "swathe-eye was found neither beside swathe nor on PATH; build both programs with: bash cmd/build.sh DIR"}
}

// FindProgram looks for a program that this one starts: by a variable of the
// environment, beside this program, then on PATH.
func FindProgram(name, variable string) (file string, ok bool) {
	if p := os.Getenv(variable); p != "" {
		return p, true
	}
	if self, err := os.Executable(); err == nil {
		if real, err := filepath.EvalSymlinks(self); err == nil {
			self = real
		}
		p := filepath.Join(filepath.Dir(self), name)
		if st, err := os.Stat(p); err == nil && !st.IsDir() {
			return p, true
		}
	}
	p, err := exec.LookPath(name)
	return p, err == nil
}

// watch sends a job to the eye and returns what it saw, of the plan's test objects
// too. Cancelling ctx ends the eye. The error is a *Failure, or ctx's. Where the
// eye failed of itself it is asked once more with less: one decoding thread and,
// where the robot then still shows, a picture of half the size. What failed first
// is told, for it is no fault of the recording.
func watch(ctx context.Context, eye string, job Job, opt Options, progress func(Progress)) (*reading, error) {
	r, err := watchOnce(ctx, eye, job, opt, progress)
	var first *Failure
	if !errors.As(err, &first) || first.Kind != EyeCrashed {
		return r, underLimit(err)
	}
	opt.Threads = 1
	less := "one thread"
	if showsHalved(job) {
		opt.halve = 1
		less += " and pictures of half the size"
	}
	r, err = watchOnce(ctx, eye, job, opt, progress)
	var second *Failure
	if errors.As(err, &second) && second.Kind == EyeCrashed {
		second.Message = "twice, the second time with " + less + ": " + second.Message
		second.Report = "First attempt\n" + first.Report + "\nSecond attempt, with " + less + "\n" + second.Report
	} else if err == nil {
		r.warnings = append(r.warnings, "swathe-eye failed at the first attempt and succeeded at the second, with "+less+" ("+first.Message+")")
	}
	return r, underLimit(err)
}

// underLimit adds to a failure of the eye that it had a limit on its memory: what
// then fails, in whatever words, may be for want of memory alone.
func underLimit(err error) error {
	mb := os.Getenv(EyeMemory)
	var f *Failure
	if mb != "" && errors.As(err, &f) && (f.Kind == EyeCrashed || f.Kind == NotReadable) {
		f.Message = fmt.Sprintf("swathe-eye failed with the %s MB of memory that --memory allows it; raise --memory to see whether the recording is at fault (%s)", mb, f.Message)
	}
	return err
}

// leastHalved is the radius, px, that a robot must show with in pictures of half
// the size: what is smaller is followed worse than a crash is worth.
const leastHalved = 10

// showsHalved tells whether a job's robot is large enough for pictures of half
// the size in which it is looked for otherwise.
func showsHalved(job Job) bool {
	lo, hi := job.Plan.Bounds()
	m := job.Camera.PixelSize(geom.Point3{X: (lo.X + hi.X) / 2, Y: (lo.Y + hi.Y) / 2, Z: job.Robot.Height})
	return m > 0 && job.Robot.Radius()/m >= leastHalved*float64(int(2)<<sight.Halvings(job.Camera.Width))
}

// watchOnce is watch, asked once.
func watchOnce(ctx context.Context, eye string, job Job, opt Options, progress func(Progress)) (*reading, error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	cmd := exec.CommandContext(ctx, eye, "look")
	cmd.WaitDelay = 2 * time.Second
	in, err := cmd.StdinPipe()
	if err != nil {
		return nil, err
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	var complaint tail
	cmd.Stderr = &complaint
	if err := cmd.Start(); err != nil {
		return nil, &Failure{Kind: EyeMissing, File: eye, T: math.NaN(), Message: "it cannot be started: " + err.Error()}
	}
	go func() {
		json.NewEncoder(in).Encode(request(job, opt))
		in.Close()
	}()
	idle := time.AfterFunc(opt.Limit, func() { cancel(errIdle) })
	defer idle.Stop()
	r := &reading{job: job, progress: progress, begun: time.Now(), touch: func() { idle.Reset(opt.Limit) }}
	readErr := r.read(out)
	waitErr := cmd.Wait()
	switch {
	case context.Cause(ctx) == errIdle:
		return nil, r.crash(fmt.Sprintf("swathe-eye gave no output for %.0f s and was stopped", opt.Limit.Seconds()), complaint.String())
	case ctx.Err() != nil:
		return nil, context.Cause(ctx)
	case r.failure != nil:
		return nil, r.failure
	case waitErr != nil || readErr != nil || !r.ended:
		what := complaint.String()
		if what == "" && waitErr != nil {
			what = waitErr.Error()
		}
		return nil, r.crash(fmt.Sprintf("swathe-eye stopped before the end (%s)", reasonLine(what)), what)
	}
	sight.Merge(r.sightings, r.turns)
	return r, nil
}

var errIdle = errors.New("no output from swathe-eye")

func request(job Job, opt Options) Request {
	q := Request{Files: job.Files, Camera: *job.Camera, Plan: *job.Plan, Robot: job.Robot, Reference: job.Reference, Threads: opt.Threads, Rate: opt.Rate, Halve: opt.halve, Debug: opt.Debug,
		Unfinished: job.Unfinished, KeepEvery: opt.KeepEvery.Seconds()}
	for _, g := range job.Gaps {
		if math.IsNaN(g) {
			q.Gaps = append(q.Gaps, nil)
		} else {
			q.Gaps = append(q.Gaps, &g)
		}
	}
	if !math.IsNaN(job.Start) {
		q.Start = &job.Start
	}
	if !math.IsNaN(job.End) {
		q.End = &job.End
	}
	return q
}

// reading takes in what the eye says.
type reading struct {
	job       Job
	rec       Recording
	progress  func(Progress)
	touch     func()
	begun     time.Time
	from      float64 // s, where work begun at that time
	firstLook time.Time
	length    float64
	sightings []sight.Sighting
	turns     []sight.Turn
	objects   []sight.ObjectSight
	warnings  []string
	stages    []Stage
	failure   *Failure
	doing     string
	ended     bool
}

func (r *reading) read(out io.Reader) error {
	sc := bufio.NewScanner(out)
	sc.Buffer(make([]byte, 0, 1<<16), 1<<24)
	for sc.Scan() {
		r.touch()
		var m Reply
		if err := json.Unmarshal(sc.Bytes(), &m); err != nil {
			return fmt.Errorf("swathe-eye's reply cannot be read: %w", err)
		}
		switch {
		case m.Doing != "":
			r.doing = m.Doing
		case m.Open != nil:
			r.length = m.Open.Duration
			r.rec.Width, r.rec.Height = m.Open.Width, m.Open.Height
			r.firstLook = time.Now()
		case m.Resumed != nil:
			// What was seen before it was stopped says nothing of how fast it is.
			r.begun, r.from = time.Now(), r.reached()
			if r.progress != nil {
				r.progress(Progress{T: r.from, Share: r.share(r.from), X: math.NaN(), Y: math.NaN(), Doing: "going on where it was stopped"})
			}
		case m.Again:
			r.sightings, r.turns, r.objects, r.warnings = nil, nil, nil, nil
		case m.Sighting != nil && checkSighting(m.Sighting, r.sightings) != nil:
			return checkSighting(m.Sighting, r.sightings)
		case m.Sighting != nil && (m.Sighting.Revised || m.Sighting.Again):
			r.revise(*m.Sighting)
		case m.Sighting != nil:
			r.doing = ""
			r.sightings = append(r.sightings, *m.Sighting)
			r.tell(m.Sighting)
		case m.Standing != nil:
			sight.NoteStanding(r.sightings, *m.Standing)
		case m.Turns != nil:
			for i := range m.Turns {
				if err := checkTurn(&m.Turns[i]); err != nil {
					return err
				}
			}
			r.turns = append(r.turns, m.Turns...)
		case m.TestObject != nil:
			r.objects = append(r.objects, *m.TestObject)
		case m.Warning != "":
			r.warnings = append(r.warnings, m.Warning)
		case m.Fail != nil:
			r.failure = m.Fail.failure()
		case m.End != nil:
			r.ended = true
			r.rec.Frames, r.rec.FramesBad, r.rec.Duration, r.rec.LookedAgain = m.End.Frames, m.End.Bad, m.End.Duration, m.End.LookedAgain
			r.stages = m.End.Stages
		}
	}
	return sc.Err()
}

// revise takes in what the run decided of a frame told before, or a second look saw.
func (r *reading) revise(s sight.Sighting) {
	i := sort.Search(len(r.sightings), func(i int) bool { return r.sightings[i].T >= s.T })
	if i < len(r.sightings) && r.sightings[i].T == s.T && !(s.Again && !s.Settles && r.sightings[i].Found) {
		s.Frame = r.sightings[i].Frame
		r.sightings[i] = s
	}
}

// share is that of the recording up to a time, 0 if its length is not known.
func (r *reading) share(t float64) float64 {
	if !(r.length > 0) {
		return 0
	}
	return math.Min(1, t/r.length)
}

// reached is the time of the last look, s.
func (r *reading) reached() float64 {
	if n := len(r.sightings); n > 0 {
		return r.sightings[n-1].T
	}
	return 0
}

func (r *reading) tell(s *sight.Sighting) {
	if r.progress == nil {
		return
	}
	t := s.T
	p := Progress{T: t, Speed: (t - r.from) / math.Max(1e-3, time.Since(r.begun).Seconds()), X: math.NaN(), Y: math.NaN()}
	if s.Found {
		p.X, p.Y = s.X, s.Y
	}
	p.Share = r.share(t)
	r.progress(p)
}

func (r *reading) fail(k Kind, message string) *Failure {
	f := &Failure{Kind: k, File: strings.Join(r.job.Files, ", "), T: math.NaN(), Message: message}
	if n := len(r.sightings); n > 0 {
		f.T = r.sightings[n-1].T
		f.Message = fmt.Sprintf("at %.1f s: %s", f.T, message)
	}
	return f
}

// crash is a failure of the eye itself: what it did last, and a report.
func (r *reading) crash(message, said string) *Failure {
	did := "opening the recording and learning the room"
	if n := len(r.sightings); r.doing != "" {
		did = r.doing
	} else if n > 0 {
		did = fmt.Sprintf("looking at the frame at %.1f s", r.sightings[n-1].T)
	}
	f := r.fail(EyeCrashed, message+"; its last step was "+did+". This is a fault of the program or the machine (such as too little memory), not necessarily of the recording")
	f.Report = fmt.Sprintf("What: %s\nLast step: %s\nFiles: %s\nFrame size: %d x %d\nFrames looked at: %d\nIts messages:\n%s\n",
		message, did, strings.Join(r.job.Files, ", "), r.rec.Width, r.rec.Height, len(r.sightings), said)
	return f
}

// reasonLine is the line of a complaint that names the reason: that of a panic,
// or the last.
func reasonLine(s string) string {
	for _, l := range strings.Split(s, "\n") {
		if l = strings.TrimSpace(l); strings.HasPrefix(l, "panic: ") || strings.HasPrefix(l, "fatal error: ") {
			return l
		}
	}
	return oneLine(s)
}

func oneLine(s string) string {
	s = strings.TrimSpace(s)
	if i := strings.LastIndexByte(s, '\n'); i >= 0 {
		s = strings.TrimSpace(s[i+1:])
	}
	if s == "" {
		return "no reason given"
	}
	return s
}

// tail keeps the first and the last kilobytes written to it.
type tail struct {
	mu sync.Mutex
	b  []byte
}

func (t *tail) Write(p []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.b = append(t.b, p...)
	if len(t.b) > 1<<16 { // the beginning names the reason of a crash
		const half = 1 << 13
		t.b = append(append(append([]byte(nil), t.b[:half]...), "\n...\n"...), t.b[len(t.b)-half:]...)
	}
	return len(p), nil
}

func (t *tail) String() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return string(t.b)
}
