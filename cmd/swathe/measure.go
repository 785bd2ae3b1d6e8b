package main

import (
	"os"
	"runtime"
	"runtime/debug"
	"strings"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
)

// measureMemory is from where on garbage is collected as it arises, bytes: a path of
// four hours in a hall of 200 m2 needs so much, and would take twice that otherwise.
const measureMemory = 256 << 20

var measureVerb = verb{
	name:  "measure",
	args:  "LAB [RECORDING...]",
	brief: "measure the recordings that have no up-to-date result",
	about: `Measures every recording under LAB/recordings that has no up-to-date result, or
only those named. RECORDING is a file, or a run written as
<layout>/<robot>_<phase>_<trial>, with * and ? as wildcards.

Each run gets a folder, LAB/results/<layout>/<robot>_<phase>_<trial>/:
  run.json                          every figure
  trace.csv, curve.csv, events.csv  the path, coverage over time, events
  missed.geojson                    the missed patches of floor
  story.md                          the run in five sentences
  passes.png, path.png, curve.png   pictures
  setup.yaml                        the set-up that it was measured with
The folder is written whole or not at all. It is made again when the recording,
its notes or the program's analysis change. When lab.yaml changes, results stay
and are listed as differing from today's set-up; --again updates them.

A measurement that is stopped, by Ctrl-C, a crash or a power cut, goes on where it
was when you call measure again; the result is the same.

A recording that cannot be measured leaves <run>.failed.json with the reason;
the others are still measured. It is tried again when the recording, its notes
or the set-up change, or with --again.

Standard output has one line for each run: the cleaned share of the reachable
floor and of the open floor, duration, mean passes and distance.`,
	groups: []optionGroup{{"What to measure", []string{"again", "anyway"}}, {"How", []string{"cell", "draws", "jobs"}},
		{"Looking inside", []string{"outlines", "debug", "at"}}},
	examples: `swathe measure my-lab
swathe measure my-lab 'cluttered/linden_*' --again
swathe measure my-lab --outlines     draw the fitted outline onto frames`,
	new: func(fs *pflag.FlagSet) func(*call) (any, error) {
		var o measureOptions
		o.addFlags(fs)
		again := fs.Bool("again", false, "also measure what is up to date or has failed before")
		var look debugOptions
		look.addFlags(fs)
		outlines := fs.Bool("outlines", false, "draw the fitted outline onto 20 frames of each run, into its folder outlines/")
		return func(c *call) (any, error) {
			if len(c.args) == 0 {
				return nil, usage("measure needs the lab's folder")
			}
			l, opt, err := o.open(c, c.args[0])
			if err != nil {
				return nil, err
			}
			if opt.Eye, err = look.eye(); err != nil {
				return nil, err
			}
			items, err := work.List(l, c.args[1:])
			if err != nil {
				return nil, err
			}
			if os.Getenv(apart) == "" { // else the queue holds the recording for us
				release, err := l.Lock()
				if err != nil {
					return nil, err
				}
				defer release()
				if err := l.Tidy(); err != nil {
					return nil, err
				}
			}
			if os.Getenv("GOMEMLIMIT") == "" {
				debug.SetMemoryLimit(measureMemory)
			}
			opt.Again = *again || look.dir != ""
			b := newBar(c.err, len(items))
			outcomes := work.All(c.ctx, l, items, opt, watcher(c, b, true))
			b.close()
			if *outlines {
				writeOutlines(c, l, outcomes)
			}
			return closing(c, l, "measure", outcomes)
		}
	},
}

// measureOptions are the options that measure and watch share.
type measureOptions struct {
	jobs   int
	cell   string
	anyway bool
	draws  string
}

func (o *measureOptions) addFlags(fs *pflag.FlagSet) {
	fs.IntVar(&o.jobs, "jobs", 1, "measure `N` recordings at once; one keeps two cores busy")
	fs.BoolVar(&o.anyway, "anyway", false, "also measure runs seen for less of the recording than least_seen in lab.yaml, and mark them on every page and picture")
	fs.StringVar(&o.cell, "cell", "", "grid cell size in `METRES`, or auto; instead of the setting in lab.yaml (0.005)")
	fs.StringVar(&o.draws, "draws", "", "draw the uncertain inputs `N` times; instead of the setting in lab.yaml (200; use 2000 for what you publish)")
}

// open opens the lab and checks the options.
func (o *measureOptions) open(c *call, dir string) (*lab.Lab, work.Options, error) {
	opt := work.Options{Jobs: o.jobs, Anyway: o.anyway, Eye: newEye()}
	if o.jobs < 1 || o.jobs > 16*runtime.NumCPU() {
		return nil, opt, usage("--jobs is %d; it should be from 1 to %d", o.jobs, 16*runtime.NumCPU())
	}
	l, err := lab.Open(dir)
	if err != nil {
		return nil, opt, err
	}
	for _, s := range [][2]string{{"cell", o.cell}, {"draws", o.draws}} {
		if s[1] == "" {
			continue
		}
		if err := l.Settings.Set(s[0], s[1]); err != nil {
			return nil, opt, usage("--%v", err)
		}
	}
	return l, opt, nil
}

// watcher prints what comes of each recording as it comes; quiet leaves out
// what needed no work.
func watcher(c *call, b *bar, showOld bool) work.Watcher {
	return work.Watcher{
		Started:  b.started,
		Progress: b.progress,
		Done: func(o work.Outcome) {
			b.finished(o.Run)
			if !showOld && (o.Kind == work.UpToDate || o.Kind == work.FailedBefore) {
				return
			}
			b.above(func() {
				c.print("%s", summary(o))
				for _, w := range o.Warnings {
					c.say("  %s: warning: %s", o.Run, w)
				}
			})
		},
	}
}

// closing prints what is to be said at the end and makes the document.
func closing(c *call, l *lab.Lab, name string, outcomes []work.Outcome) (any, error) {
	doc := measureDoc{Verb: name, Lab: l.Dir, Runs: []runDoc{}, Differs: []string{}}
	count := map[work.Kind]int{}
	for _, o := range outcomes {
		doc.Runs = append(doc.Runs, newRunDoc(o))
		count[o.Kind]++
	}
	differing, err := l.Differing()
	if err != nil {
		return doc, err
	}
	if len(differing) > 0 {
		doc.Differs = differing
		c.say("lab.yaml has changed since these were measured; use --again to measure them with it: %s", strings.Join(differing, ", "))
	}
	if len(outcomes) == 0 {
		c.say("There is no recording under %s yet.", l.Rel(l.RecordingsDir()))
	}
	bad := count[work.Failed] + count[work.FailedBefore] + count[work.Stopped]
	if len(outcomes) > 0 {
		c.say("%s", tally(count))
	}
	if count[work.FailedBefore] > 0 {
		c.say("Recordings that failed before and have not changed were skipped; use --again to try them.")
	}
	if count[work.Stopped] > 0 {
		c.say("Stopped. No incomplete result was left; the same call continues from here.")
	}
	if bad > 0 {
		return doc, errSomeFailed
	}
	return doc, nil
}
