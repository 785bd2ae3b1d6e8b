package page

import (
	"context"
	"encoding/json"
	"io"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"

	"swathe/report/figure"
)

// noLab is a lab that knows nothing; what is asked of it is counted.
type noLab struct {
	rows    []Row
	arrived int
	asked   []string
}

func (n *noLab) Rows() ([]Row, error)              { return n.rows, nil }
func (n *noLab) Live() Live                        { return Live{} }
func (n *noLab) Pause(bool) error                  { return nil }
func (n *noLab) Names() (layouts, robots []string) { return []string{"cluttered"}, []string{"siskin"} }
func (n *noLab) Measure(run string, _ bool) error {
	n.asked = append(n.asked, "measure "+run)
	return nil
}
func (n *noLab) Stop(run string) error { n.asked = append(n.asked, "stop "+run); return nil }
func (n *noLab) Arrived()              { n.arrived++ }
func (n *noLab) Name(layout, file string, _ Naming) error {
	n.asked = append(n.asked, "name "+layout+"/"+file)
	return nil
}
func (n *noLab) Frame(_ context.Context, f FrameAsk) ([]byte, string, error) {
	n.asked = append(n.asked, "frame "+f.Files[0])
	return []byte("picture"), "image/png", nil
}
func (n *noLab) Corners(_ context.Context, a CornersAsk) (Corners, error) {
	n.asked = append(n.asked, "corners "+a.File)
	return Corners{}, nil
}
func (n *noLab) Discard(run, what string) error {
	n.asked = append(n.asked, "discard "+run+" "+what)
	return nil
}
func (n *noLab) Rename(run string, to Naming) error {
	n.asked = append(n.asked, "rename "+run+" "+to.Robot)
	return nil
}
func (n *noLab) Bin() ([]Binned, error) { return nil, nil }
func (n *noLab) Restore(id string) error {
	n.asked = append(n.asked, "restore "+id)
	return nil
}
func (n *noLab) EmptyBin() error       { n.asked = append(n.asked, "empty the bin"); return nil }
func (n *noLab) Setup() (Setup, error) { return Setup{}, nil }
func (n *noLab) Try(context.Context, json.RawMessage) (Tried, error) {
	n.asked = append(n.asked, "try")
	return Tried{}, nil
}
func (n *noLab) Save(context.Context, json.RawMessage, string) (Tried, error) {
	n.asked = append(n.asked, "save")
	return Tried{}, nil
}
func (n *noLab) Run(run string) (*RunView, error) { return nil, Refuse(404, "no run %s", run) }
func (n *noLab) Picture(_ context.Context, w io.Writer, run, _ string, _ figure.Options) error {
	_, _ = w.Write([]byte("half a picture"))
	return Refuse(404, "no run %s", run)
}
func (n *noLab) Notes(string) (Notes, error) { return Notes{}, nil }
func (n *noLab) SaveNotes(run string, _ Notes) error {
	n.asked = append(n.asked, "notes "+run)
	return nil
}
func (n *noLab) Compare(_ context.Context, name string, _ []string, _ bool) (string, error) {
	n.asked = append(n.asked, "compare "+name)
	return name, nil
}
func (n *noLab) Judge(runs []string) (Judged, error) { return Judged{Fit: len(runs)}, nil }
func (n *noLab) Joint(context.Context, io.Writer, string, []string, figure.Options) error {
	return Refuse(404, "no run")
}
func (n *noLab) Export(_ context.Context, a ExportAsk, told func(Progress)) (*Exported, error) {
	n.asked = append(n.asked, "export "+a.Name)
	if a.Films.Each {
		told(Progress{What: "film.mp4", Share: 0.5})
		if a.Name == "full" {
			return nil, Refuse(507, "The disk is full.")
		}
	}
	return &Exported{Name: a.Name}, nil
}
func (n *noLab) PictureKinds() []string { return []string{"passes", "path", "curve"} }

// outsideText is what no answer may ever hold.
const outsideText = "nobody-may-read-this"

// fakeLab makes a lab's folder with files, links that lead out of it, and a
// folder outside with a secret; it returns both and a server of the page.
func fakeLab(t *testing.T, opt Options) (dir, outside string, lab *noLab, srv *httptest.Server) {
	t.Helper()
	top := t.TempDir()
	dir, outside = filepath.Join(top, "lab"), filepath.Join(top, "outside")
	write := func(name, text string) {
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write(filepath.Join(dir, "lab.yaml"), "cameras: {}\n")
	write(filepath.Join(dir, "recordings/cluttered/siskin_mapped_1.mp4"), "a recording")
	write(filepath.Join(dir, "comparisons/one/index.html"), "<p>a comparison")
	write(filepath.Join(dir, "exports/print/picture.png"), "a picture")
	write(filepath.Join(outside, "secret.mp4"), outsideText)
	write(filepath.Join(outside, "index.html"), outsideText)
	for link, to := range map[string]string{
		"recordings/cluttered/link.mp4":     filepath.Join(outside, "secret.mp4"),
		"recordings/cluttered/dangling.mp4": filepath.Join(outside, "new.mp4"),
		"recordings/cluttered/near.mp4":     "../../../outside/secret.mp4",
		"recordings/linked":                 outside,
		"comparisons/linked":                outside,
		"exports/print/link.png":            filepath.Join(outside, "secret.mp4"),
	} {
		if err := os.Symlink(to, filepath.Join(dir, link)); err != nil {
			t.Skipf("links cannot be made here: %v", err)
		}
	}
	lab = &noLab{}
	h, root, err := New(dir, lab, opt)
	if err != nil {
		t.Fatal(err)
	}
	srv = httptest.NewServer(h)
	t.Cleanup(func() { srv.Close(); root.Close() })
	return dir, outside, lab, srv
}

// tree reads every file below dir.
func tree(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.WalkDir(dir, func(p string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		if d.Type()&os.ModeSymlink != 0 {
			to, err := os.Readlink(p)
			out[p] = "-> " + to
			return err
		}
		data, err := os.ReadFile(p)
		out[p] = string(data)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}
