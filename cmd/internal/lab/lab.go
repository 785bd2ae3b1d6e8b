// Package lab is a lab folder: its set-up (lab.yaml and robots/), the recordings
// dropped into it and the results made of them. It reads and writes files and
// holds no formula of measurement.
//
// Everything that a user wrote is checked while it is read; what is refused is a
// *Problems, each with file, line and a sentence that says how to mend it.
package lab

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"swathe/cmd/internal/disk"
	"swathe/geom"
	"swathe/track/residue"
)

// Lab is a lab folder whose set-up has been read and found right. Treat it as
// read-only; Reopen reads it anew.
type Lab struct {
	Dir      string             // absolute
	Cameras  map[string]*Camera // by name
	Layouts  map[string]*Layout
	Robots   map[string]*Robot
	Settings Settings

	Declared   []Condition        // conditions of the lab's own
	Quantities []DeclaredQuantity // of its bench
	Laboratory Laboratory         // nil: lab.yaml says nothing of it
	days       map[string]map[string]string

	CameraNames, LayoutNames, RobotNames []string // in the order written

	hashes *disk.Hashes
}

// Camera is one of the cameras of lab.yaml.
type Camera struct {
	Spec  geom.CameraSpec
	Room  string    // picture of its room on the day of its survey, as written; empty: none
	where Problem   // place in lab.yaml that a solver's refusal points to
	marks []Problem // place of each mark
	solved
}

// Layout is one of the layouts of lab.yaml.
type Layout struct {
	Name   string
	Camera string // empty only in a lab without cameras, where every recording is a path
	Plan   *geom.Plan

	Patches []residue.Patch // floor that was soiled, in the order written
	// CleanFloor is a picture of the floor clean, by the layout's camera, from the
	// lab's folder; empty: none is named.
	CleanFloor string
}

// Robot is one of the robots, with the tolerances that the user wrote.
type Robot struct {
	geom.Robot
	// Tolerances holds the half-width of each {value, tolerance} by the key that
	// it was written at, such as "diameter" or "tools.brush.width"; m.
	Tolerances map[string]float64
}

// SetupFile is the name of a lab's set-up file.
const SetupFile = "lab.yaml"

// Open reads the set-up of the lab in dir and solves its cameras, except those
// whose lens comes from board pictures (see Lab.Solve). A set-up that is wrong
// gives a *Problems.
func Open(dir string) (*Lab, error) {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return nil, err
	}
	if st, err := os.Stat(abs); err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("there is no folder %s. Name the lab's folder, the one that holds %s", dir, SetupFile)
		}
		return nil, fmt.Errorf("the lab's folder can't be opened: %w", err)
	} else if !st.IsDir() {
		return nil, fmt.Errorf("%s is not a folder. Name the lab's folder, the one that holds %s", dir, SetupFile)
	}
	data, err := os.ReadFile(filepath.Join(abs, SetupFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("there is no %s in %s. Write one (swathe help lab shows how), or make an example with: swathe demo DIR", SetupFile, dir)
	} else if err != nil {
		return nil, fmt.Errorf("%s can't be read: %w", SetupFile, err)
	}
	return OpenText(abs, data)
}

// OpenText is Open of the lab in dir (absolute) if its lab.yaml held data: a
// set-up can be judged before it is written.
func OpenText(dir string, data []byte) (*Lab, error) {
	return OpenTextIn(context.Background(), dir, data)
}

// OpenTextIn is OpenText that gives up when ctx ends.
func OpenTextIn(ctx context.Context, dir string, data []byte) (*Lab, error) {
	l := &Lab{Dir: dir, Cameras: map[string]*Camera{}, Layouts: map[string]*Layout{}, Robots: map[string]*Robot{}, Settings: DefaultSettings()}
	var problems Problems
	l.read(data, &problems)
	l.robotFiles(&problems)
	l.readDays(&problems)
	if len(problems.List) == 0 {
		l.solveKnown(ctx, &problems)
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if len(problems.List) > 0 {
		return nil, &problems
	}
	l.hashes = disk.OpenHashes(filepath.Join(dir, "results", hashFile))
	return l, nil
}

func (l *Lab) read(data []byte, problems *Problems) {
	before := len(problems.List)
	r, body := parse(SetupFile, data, problems)
	if body == nil {
		if len(problems.List) == before {
			problems.add(Problem{File: SetupFile, Message: "the file is empty. It needs cameras, layouts and robots; swathe help lab shows one."})
		}
		return
	}
	top, ok := r.block(body, body, SetupFile, "cameras", "layouts", "robots", "laboratory", "conditions", "quantities", "settings")
	if !ok {
		return
	}
	if top.has("cameras") {
		list, _ := r.entries(top.val("cameras"), top.key("cameras"), "cameras", "a block with one key for each camera")
		for _, e := range list {
			if r.name(e, "a camera") {
				l.CameraNames = append(l.CameraNames, e.name)
				l.Cameras[e.name] = r.camera(l.Dir, e)
			}
		}
	}
	if top.need("layouts", "Write at least one layout with its room, camera and obstacles.") {
		list, ok := r.entries(top.val("layouts"), top.key("layouts"), "layouts", "a block with one key for each layout")
		if ok && len(list) == 0 {
			r.refuse(top.key("layouts"), "layouts is empty. Write at least one layout.")
		}
		for _, e := range list {
			if r.name(e, "a layout") {
				l.LayoutNames = append(l.LayoutNames, e.name)
				l.Layouts[e.name] = r.layout(l, e)
			}
		}
	}
	if top.has("robots") {
		list, _ := r.entries(top.val("robots"), top.key("robots"), "robots", "a block with one key for each robot")
		for _, e := range list {
			if r.name(e, "a robot") {
				l.RobotNames = append(l.RobotNames, e.name)
				l.Robots[e.name] = r.robot(e.name, e.value, e.key)
			}
		}
	}
	r.declarations(l, top)
	if top.has("settings") {
		r.settings(&l.Settings, top.val("settings"), top.key("settings"))
	}
}

// robotFiles reads robots/<name>.yaml.
func (l *Lab) robotFiles(problems *Problems) {
	dir := filepath.Join(l.Dir, "robots")
	files, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		problems.add(Problem{File: "robots", Message: fmt.Sprintf("the folder can't be read: %v.", err)})
		return
	}
	for _, f := range files {
		ext := filepath.Ext(f.Name())
		if f.IsDir() || strings.HasPrefix(f.Name(), ".") || ext != ".yaml" && ext != ".yml" {
			continue
		}
		rel := filepath.ToSlash(filepath.Join("robots", f.Name()))
		name := strings.TrimSuffix(f.Name(), ext)
		data, err := os.ReadFile(filepath.Join(dir, f.Name()))
		if err != nil {
			problems.add(Problem{File: rel, Message: fmt.Sprintf("the file can't be read: %v.", err)})
			continue
		}
		if _, twice := l.Robots[name]; twice {
			problems.add(Problem{File: rel, Message: fmt.Sprintf("robot %q is described in two places. Keep one of them.", name)})
			continue
		}
		if why := badName(name); why != "" {
			problems.add(Problem{File: rel, Message: fmt.Sprintf("%q can't be a robot's name: %s. Rename the file.", name, why)})
			continue
		}
		before := len(problems.List)
		r, body := parse(rel, data, problems)
		if body == nil {
			if len(problems.List) == before {
				problems.add(Problem{File: rel, Message: "the file is empty. Write the robot's diameter, height and tools."})
			}
			continue
		}
		l.RobotNames = append(l.RobotNames, name)
		l.Robots[name] = r.robot(name, body, body)
	}
	if len(l.Robots) == 0 && len(problems.List) == 0 {
		problems.add(Problem{File: SetupFile, Message: "no robot is described. Write a robots block here, or a file robots/<name>.yaml."})
	}
}

// name refuses a key that cannot serve as part of a file's name.
func (r *reader) name(e entry, what string) bool {
	if why := badName(e.name); why != "" {
		r.refuse(e.key, "%q can't be the name of %s: %s.", e.name, what, why)
		return false
	}
	return true
}

// badName tells why a name can't be part of a file's name, or "".
func badName(name string) string {
	switch {
	case strings.TrimSpace(name) == "":
		return "it is blank"
	case strings.TrimSpace(name) != name:
		return "it begins or ends with a space"
	case strings.HasPrefix(name, "."):
		return "it begins with a dot"
	case len(name) > 80:
		return "it is longer than 80 bytes"
	case strings.ContainsAny(name, `/\:*?"<>|[]`):
		return `it holds one of / \ : * ? " < > | [ ]`
	case strings.ContainsFunc(name, func(c rune) bool { return c < ' ' || c == 0x7f }):
		return "it contains a control character"
	}
	return ""
}

// sortedKeys returns the keys of a map in order.
func sortedKeys[V any](m map[string]V) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}
