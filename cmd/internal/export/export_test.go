package export

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"swathe/report/figure"
)

// Pictures are drawn several at a time and yet written in their order, each
// once; the first that fails ends it, and nothing half written stays.
func TestPicturesInOrder(t *testing.T) {
	small := figure.DefaultOptions()
	small.Width, small.Height = 400, 300
	draw := func(o figure.Options) (*figure.Picture, error) {
		return figure.Minutes("wren", []figure.Spell{{Words: "new floor", Seconds: 10}, {Words: "docked", Seconds: 3, Use: figure.UseDock}}, o)
	}
	fail := func(figure.Options) (*figure.Picture, error) { return nil, errors.New("the ink is out") }
	for _, broken := range []int{-1, 0, 7, 19} {
		dir := t.TempDir()
		e := &exporter{dir: dir, req: Request{Options: small}, out: &Outcome{}}
		var sheets []sheet
		var want []string
		for i := range 20 {
			s := sheet{name: string(rune('a' + i)), format: "png", opt: small, draw: draw}
			if i == broken {
				s.draw = fail
			}
			sheets = append(sheets, s)
			if broken < 0 || i < broken {
				want = append(want, s.name+".png")
			}
		}
		err := e.pictures(context.Background(), sheets)
		if (err != nil) != (broken >= 0) {
			t.Errorf("picture %d fails: %v", broken, err)
		}
		var got []string
		for _, f := range e.out.Files {
			got = append(got, f.Name)
			if i, err := os.Stat(filepath.Join(dir, f.Name)); err != nil || i.Size() == 0 {
				t.Errorf("%s: %v", f.Name, err)
			}
			if !strings.Contains(f.Shows, "wren") {
				t.Errorf("%s shows %q", f.Name, f.Shows)
			}
		}
		if strings.Join(got, " ") != strings.Join(want, " ") {
			t.Errorf("picture %d fails: written %v, want %v", broken, got, want)
		}
		if there, _ := os.ReadDir(dir); len(there) != len(want) {
			t.Errorf("picture %d fails: %d files stand there, want %d", broken, len(there), len(want))
		}
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	e := &exporter{dir: t.TempDir(), req: Request{Options: small}, out: &Outcome{}}
	if err := e.pictures(ctx, []sheet{{name: "a", format: "png", opt: small, draw: draw}}); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
}
