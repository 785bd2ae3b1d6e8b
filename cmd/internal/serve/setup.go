package serve

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"time"

	"swathe/cmd/internal/disk"
	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
	"swathe/geom"
	"swathe/report/page"
)

func (d *Desk) setupFile() string { return filepath.Join(d.dir, lab.SetupFile) }

// readSetup returns lab.yaml and its hash, both empty if there is none. A link
// is not followed out of the lab.
func (d *Desk) readSetup() ([]byte, string, error) {
	if err := d.confined([]string{d.setupFile()}); err != nil {
		return nil, "", page.Refuse(http.StatusForbidden, "lab.yaml is a link that leads out of the lab's folder; the page changes only what is in it.")
	}
	data, err := os.ReadFile(d.setupFile())
	if errors.Is(err, os.ErrNotExist) {
		return nil, "", nil
	} else if err != nil {
		return nil, "", err
	}
	return data, shaOf(data), nil
}

func shaOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// Setup returns lab.yaml as the page edits it.
func (d *Desk) Setup() (page.Setup, error) {
	data, sha, err := d.readSetup()
	if err != nil {
		return page.Setup{}, err
	}
	s := page.Setup{Exists: sha != "", SHA: sha, Doc: json.RawMessage("null"), Problems: []page.Problem{}}
	if m, ok := lab.SetupValue(data); ok {
		if s.Doc, err = json.Marshal(m); err != nil {
			return s, err
		}
	}
	if s.Exists {
		if _, err := lab.OpenText(d.dir, data); err != nil {
			s.Problems = problems(err)
		}
	}
	return s, nil
}

func problems(err error) []page.Problem {
	var ps *lab.Problems
	if !errors.As(err, &ps) {
		return []page.Problem{{File: lab.SetupFile, Message: err.Error()}}
	}
	out := []page.Problem{}
	for _, p := range ps.List {
		out = append(out, page.Problem{File: p.File, Line: p.Line, Message: p.Message, Excerpt: p.Excerpt})
	}
	return out
}

// Try judges a set-up without writing it.
func (d *Desk) Try(ctx context.Context, doc json.RawMessage) (page.Tried, error) {
	t, _, err := d.try(ctx, doc)
	return t, err
}

// trying lets one set-up be judged at a time, and each for judgeFor at most: a
// page that is typed in asks again and again, and gives up what it asked before.
var trying = make(chan struct{}, 1)

const judgeFor = 30 * time.Second

func (d *Desk) try(ctx context.Context, doc json.RawMessage) (page.Tried, []byte, error) {
	select {
	case trying <- struct{}{}:
		defer func() { <-trying }()
	case <-ctx.Done():
		return page.Tried{}, nil, ctx.Err()
	}
	bounded, cancel := context.WithTimeout(ctx, judgeFor)
	defer cancel()
	t, text, err := d.judge(bounded, doc)
	if ctx.Err() == nil && bounded.Err() != nil {
		err = page.Refuse(http.StatusUnprocessableEntity, "The set-up could not be judged within %.0f s. Split the lab into several, or judge it with swathe check.", judgeFor.Seconds())
	}
	return t, text, err
}

func (d *Desk) judge(ctx context.Context, doc json.RawMessage) (page.Tried, []byte, error) {
	t := page.Tried{Problems: []page.Problem{}, Cameras: map[string]page.TriedCam{}, Judged: json.RawMessage("null")}
	want, err := lab.ParseJSON(doc)
	if err != nil {
		return t, nil, page.Refuse(http.StatusBadRequest, "The set-up can't be read: %v.", err)
	}
	old, sha, err := d.readSetup()
	if err != nil {
		return t, nil, err
	}
	t.SHA = sha
	if err := want.TooMany(); err != nil {
		t.Problems = problems(err)
		return t, nil, nil
	}
	text, err := lab.EditSetup(old, want)
	if err != nil {
		return t, nil, page.Refuse(http.StatusConflict, "%v.", err)
	}
	t.Text = string(text)
	for name, c := range lab.TryCameras(ctx, d.dir, text) {
		t.Cameras[name] = tried(c)
	}
	l, err := lab.OpenTextIn(ctx, d.dir, text)
	if ctx.Err() != nil {
		return t, text, ctx.Err()
	}
	if err != nil {
		t.Problems = problems(err)
		return t, text, nil
	}
	j, err := work.Judge(ctx, l, d.eye.Eye)
	if err != nil {
		t.Problems = problems(err)
		return t, text, nil
	}
	t.Judged, err = json.Marshal(j)
	return t, text, err
}

func tried(c lab.CameraTry) page.TriedCam {
	var out page.TriedCam
	if c.Err != nil {
		out.Problem = c.Err.Error()
	}
	if c.Solution != nil {
		out.Camera = cameraOf(c.Solution.Camera)
		j := work.JudgeCamera(c.Spec, c.Solution)
		out.Judged = j
	}
	return out
}

func cameraOf(c *geom.Camera) *page.Camera {
	return &page.Camera{Width: c.Width, Height: c.Height, Model: string(c.Lens.Model), Focal: [2]float64{c.Lens.Fx, c.Lens.Fy},
		Centre: [2]float64{c.Lens.Cx, c.Lens.Cy}, Dist: c.Lens.Dist, R: c.R, Place: [3]float64{c.Centre.X, c.Centre.Y, c.Centre.Z}}
}

// Save writes a set-up that is right, unless lab.yaml has changed since it was
// read.
func (d *Desk) Save(ctx context.Context, doc json.RawMessage, sha string) (page.Tried, error) {
	d.setupMu.Lock()
	defer d.setupMu.Unlock()
	t, text, err := d.try(ctx, doc)
	if err != nil {
		return t, err
	}
	if t.SHA != sha {
		return t, page.Refuse(http.StatusConflict, "lab.yaml was changed elsewhere since this page read it. Reload the page and make the change again.")
	}
	if len(t.Problems) > 0 {
		return t, nil
	}
	if st, err := os.Lstat(d.setupFile()); err == nil && !st.Mode().IsRegular() {
		return t, page.Refuse(http.StatusForbidden, "lab.yaml is not an ordinary file, so it was not written.")
	}
	if err := disk.WriteWhole(d.setupFile(), text); err != nil {
		return t, page.Refuse(http.StatusInsufficientStorage, "%v.", err)
	}
	t.Saved, t.SHA = true, shaOf(text)
	d.nudge()
	return t, nil
}

// stamp tells files of one name apart by size and time.
func stamp(files []string) string {
	s := ""
	for _, f := range files {
		if st, err := os.Stat(f); err == nil {
			s += fmt.Sprint(" ", st.Size(), st.ModTime().UnixNano())
		}
	}
	return s
}
