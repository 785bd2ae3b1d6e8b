package lab

import (
	"context"
	"errors"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"swathe/track"
)

// Verified is what a lab's results are like against what they were made of.
type Verified struct {
	Results int       `json:"results"`
	Files   int       `json:"files"`  // whose hash was taken
	Differ  []Finding `json:"differ"` // what is not as it was written or measured
	Notes   []Finding `json:"notes"`  // what is as it was, and belongs to another state of the lab
}

// Finding is one thing about a result.
type Finding struct {
	Run  string `json:"run"`
	What string `json:"what"`
}

// Verify reads every result's recordings and files anew, whatever hashes are
// remembered of them, and tells what no longer fits. An error is of the lab.
func (l *Lab) Verify(ctx context.Context) (*Verified, error) {
	ids, err := l.Results()
	if err != nil {
		return nil, err
	}
	runs, _, err := l.Recordings()
	if err != nil {
		return nil, err
	}
	today := map[string]Run{}
	for _, r := range runs {
		today[r.ID()] = r
	}
	v := &Verified{Results: len(ids), Differ: []Finding{}, Notes: []Finding{}}
	taken := map[string]string{} // of recordings: several runs may rest on one
	for _, id := range ids {
		if err := ctx.Err(); err != nil {
			return v, err
		}
		l.verifyOne(v, id, today, taken)
	}
	return v, nil
}

func (l *Lab) verifyOne(v *Verified, id string, today map[string]Run, taken map[string]string) {
	differs := func(what string) { v.Differ = append(v.Differ, Finding{id, what}) }
	note := func(what string) { v.Notes = append(v.Notes, Finding{id, what}) }
	dir := filepath.Join(l.ResultsDir(), filepath.FromSlash(id))
	var m made
	if ok, err := readJSON(filepath.Join(dir, MadeName), &m); !ok || err != nil || len(m.Files) != len(m.SHA256) {
		differs(MadeName + " can't be read. Measure the recording again with --again.")
		return
	}
	sum := func(file string) (string, error) {
		v.Files++
		return track.HashFile(file)
	}
	for i, name := range m.Files {
		if !filepath.IsLocal(filepath.FromSlash(name)) {
			differs(name + ", its recording, is not in the lab's folder.")
			continue
		}
		h, ok := taken[name]
		if !ok {
			var err error
			if h, err = sum(filepath.Join(l.Dir, filepath.FromSlash(name))); errors.Is(err, fs.ErrNotExist) {
				h = "gone"
			} else if err != nil {
				h = "unreadable"
			}
			taken[name] = h
		}
		switch h {
		case m.SHA256[i]:
		case "gone":
			note(name + ", its recording, is gone.")
		case "unreadable":
			differs(name + ", its recording, can't be read.")
		default:
			differs(name + ", its recording, is not the one that was measured.")
		}
	}
	for _, name := range slices.Sorted(maps.Keys(m.Results)) {
		if !filepath.IsLocal(filepath.FromSlash(name)) {
			differs(MadeName + " names " + name + ", which is not in its folder.")
			continue
		}
		h, err := sum(filepath.Join(dir, filepath.FromSlash(name)))
		switch {
		case errors.Is(err, fs.ErrNotExist):
			differs(name + " is missing.")
		case err != nil:
			differs(name + " can't be read.")
		case h != m.Results[name]:
			differs(name + " was changed after it was written.")
		}
	}
	if len(m.Results) == 0 {
		note("it was made before the hashes of its files were kept.")
	}
	if text, err := os.ReadFile(filepath.Join(dir, SetupName)); err != nil || hashOf(text) != m.SetupSHA256 {
		differs(SetupName + " is not the set-up that it was measured with.")
	}
	if m.Analysis != AnalysisVersion {
		note("it was made by another version of the analysis. Measure the recording again.")
	}
	layout, name, _ := strings.Cut(id, "/")
	if r, ok := today[id]; ok && l.SetupHash(layout, r.Robot, l.CameraOf(r)) != m.SetupSHA256 {
		note("lab.yaml has changed since it was measured.")
	} else if !ok && taken[strings.Join(m.Files, "")] != "gone" {
		note("no recording is called " + name + " any more.")
	}
}
