package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/work"
	"swathe/track"
)

// debugOptions are measure's options for a look inside.
type debugOptions struct{ dir, at string }

func (o *debugOptions) addFlags(fs *pflag.FlagSet) {
	fs.StringVar(&o.dir, "debug", "", "measure again, and write a picture of every stage at the times --at, with the time each stage took, into `DIR`")
	fs.StringVar(&o.at, "at", "10", "for --debug: times in the recording, `SECONDS[,SECONDS...]`")
}

// times reads --at.
func (o *debugOptions) times() ([]float64, error) {
	var out []float64
	for _, f := range strings.Split(o.at, ",") {
		v, err := strconv.ParseFloat(strings.TrimSpace(f), 64)
		if err != nil || !(v >= 0 && v < 1e6) {
			return nil, usage("--at is %q; it should be seconds separated by commas, such as 12.5,60", o.at)
		}
		out = append(out, v)
	}
	slices.Sort(out)
	return out, nil
}

// eye is newEye with pictures of its stages.
func (o *debugOptions) eye() (work.Eye, error) {
	eye := newEye()
	if o.dir == "" {
		return eye, nil
	}
	at, err := o.times()
	if err != nil {
		return eye, err
	}
	eye.Measure = func(ctx context.Context, job track.Job, tell func(track.Progress)) (*track.Result, error) {
		path, err := track.FindEye()
		if err != nil {
			return nil, err
		}
		first := job.Files[0]
		dir, err := filepath.Abs(filepath.Join(o.dir, filepath.Base(filepath.Dir(first))+"_"+strings.TrimSuffix(filepath.Base(first), filepath.Ext(first))))
		if err != nil {
			return nil, err
		}
		if err := os.MkdirAll(dir, 0o755); err != nil {
			return nil, fmt.Errorf("the folder for --debug can't be made: %w", err)
		}
		opt := track.DefaultOptions()
		opt.Debug = &track.Debug{Dir: dir, At: at}
		res, err := track.Measure(ctx, path, job, opt, tell)
		if err != nil {
			return nil, err
		}
		return res, writeStages(filepath.Join(dir, "stages.json"), res.Stages)
	}
	return eye, nil
}

// writeStages writes what each stage of the work took.
func writeStages(file string, stages []track.Stage) error {
	type row struct {
		Stage   string  `json:"stage"`
		Seconds float64 `json:"seconds"`
	}
	rows := []row{}
	for _, s := range stages {
		rows = append(rows, row{s.Name, s.Seconds})
	}
	data, err := json.MarshalIndent(rows, "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(file, append(data, '\n'), 0o644)
}
