package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/lab"
	"swathe/geom"
	"swathe/report/figure"
	"swathe/track"
)

// markerOptions are check's options for a marker to be printed.
type markerOptions struct {
	file       string
	robot      string
	dictionary string
	id         int
	side       float64
	fs         *pflag.FlagSet
}

func (o *markerOptions) addFlags(fs *pflag.FlagSet) {
	fs.StringVar(&o.file, "marker", "", "write a marker to print to `FILE.png` (A4, true size): that of the robot in lab.yaml, or one that you choose")
	fs.StringVar(&o.robot, "robot", "", "`NAME` of the robot in lab.yaml; also for --recording, if the file is not under recordings/")
	fs.StringVar(&o.dictionary, "dictionary", "4x4_50", "`NAME` of the marker dictionary, such as 4x4_50")
	fs.IntVar(&o.id, "id", 0, "number `N` of the marker in the dictionary")
	fs.Float64Var(&o.side, "side", 0.08, "side of the black square in `METRES`")
	o.fs = fs
}

// pick returns the marker that is asked for: the options', with what they leave
// open from a robot of the lab.
func (o *markerOptions) pick(args []string) (geom.Marker, error) {
	m := geom.Marker{Dictionary: o.dictionary, ID: o.id, Side: o.side}
	if len(args) == 0 {
		if o.robot != "" {
			return m, usage("--robot needs the lab's folder")
		}
		return m, nil
	}
	l, err := lab.Open(args[0])
	if err != nil {
		return m, err
	}
	var found *geom.Marker
	for _, name := range l.RobotNames {
		r := l.Robots[name]
		if r.Marker == nil || o.robot != "" && name != o.robot {
			continue
		}
		if found != nil {
			return m, usage("more than one robot of this lab has a marker; choose with --robot NAME")
		}
		found = r.Marker
	}
	switch {
	case o.robot != "" && l.Robots[o.robot] == nil:
		return m, usage("there is no robot %q in lab.yaml.%s", o.robot, lab.DidYouMean(o.robot, l.RobotNames))
	case o.robot != "" && found == nil:
		return m, usage("robot %s has no marker in lab.yaml; leave out the lab and give --dictionary, --id and --side", o.robot)
	case found == nil:
		return m, nil
	}
	if !o.fs.Changed("dictionary") {
		m.Dictionary = found.Dictionary
	}
	if !o.fs.Changed("id") {
		m.ID = found.ID
	}
	if !o.fs.Changed("side") {
		m.Side = found.Side
	}
	return m, nil
}

// write makes the sheet.
func (o *markerOptions) write(c *call) (any, error) {
	if len(c.args) > 1 {
		return nil, usage("check --marker takes the lab's folder or no argument")
	}
	if filepath.Ext(o.file) != ".png" {
		return nil, usage("--marker is %q; it should end in .png", o.file)
	}
	m, err := o.pick(c.args)
	if err != nil {
		return nil, err
	}
	eye, err := track.FindEye()
	if err != nil {
		return nil, err
	}
	cells, err := track.MarkerCells(c.ctx, eye, m.Dictionary, m.ID)
	if err != nil {
		return nil, usage("%v", err)
	}
	sheet, err := figure.Marker(figure.MarkerSheet{Dictionary: m.Dictionary, ID: m.ID, Cells: cells, Side: m.Side})
	if err != nil {
		return nil, usage("%v", err)
	}
	var buf bytes.Buffer
	if err := sheet.Write(&buf, "png"); err != nil {
		return nil, err
	}
	if err := os.WriteFile(o.file, buf.Bytes(), 0o644); err != nil {
		return nil, fmt.Errorf("the marker can't be written: %w", err)
	}
	c.print("%s: marker %d of %s, %.1f mm wide. Print it at 100 %%, and check the ruler on it.", o.file, m.ID, m.Dictionary, m.Side*1000)
	return struct {
		Verb       string  `json:"verb"`
		File       string  `json:"file"`
		Dictionary string  `json:"dictionary"`
		ID         int     `json:"id"`
		SideM      float64 `json:"side_m"`
	}{"check", o.file, m.Dictionary, m.ID, m.Side}, nil
}
