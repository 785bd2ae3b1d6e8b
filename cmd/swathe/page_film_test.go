package main

import (
	"context"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"swathe/geom"
	"swathe/track"
	"swathe/track/film"
)

// TestPageLayerAlpha shows a layer of a film over a red page: a browser mixes it as it
// mixes a PNG of the same frame, and where nothing is painted the page shows.
func TestPageLayerAlpha(t *testing.T) {
	eye := os.Getenv("SWATHE_EYE")
	if eye == "" {
		t.Skip("SWATHE_EYE does not name the eye; cmd/test.sh sets it")
	}
	dir := t.TempDir()
	plan, err := geom.NewPlan(geom.PlanSpec{Name: "one", Room: []geom.Point2{{X: 0, Y: 0}, {X: 3.2, Y: 0}, {X: 3.2, Y: 2.4}, {X: 0, Y: 2.4}}})
	if err != nil {
		t.Fatal(err)
	}
	cam := geom.NewCamera(320, 240, geom.Lens{Model: geom.Brown, Fx: 250, Fy: 250, Cx: 159.5, Cy: 119.5}, [3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, geom.Point3{X: 1.6, Y: 1.2, Z: 2.5})
	p := film.Pane{Camera: *cam, Plan: *plan, Robot: geom.Robot{Diameter: 0.3, Height: 0.1, Tools: []geom.Tool{{Width: 0.2}}},
		Crop: [4]int{0, 0, 320, 240}, Cell: 0.1, Nx: 32, Ny: 24, Log: filepath.Join(dir, "log"), Title: "linden"}
	var log []film.Pass
	for n := range 4 { // quarters of the room, cleaned once to four times
		for k := range p.Nx * p.Ny {
			if i := k % p.Nx; i >= 8*n && k/p.Nx >= 4 {
				log = append(log, film.Pass{Cell: int32(k), T: float32(n) / 10})
			}
		}
	}
	if err := film.WriteLog(p.Log, log); err != nil {
		t.Fatal(err)
	}
	spec := film.Spec{Width: 320, Height: 240, FPS: 10, Speed: 1, Length: 2, Panes: []film.Pane{p}, Layer: "passes"}
	for _, kind := range []string{"vp9", ""} {
		spec.Kind, spec.Overlay, spec.Out = kind, kind == "", filepath.Join(dir, "layer.webm")
		if kind == "" {
			spec.Out = filepath.Join(dir, "pictures")
		}
		if _, err := track.MakeFilm(context.Background(), eye, spec, nil); err != nil {
			t.Fatal(err)
		}
	}
	const html = `<!DOCTYPE html><title>layer</title><body style="margin:0;background:#f00"><video id="film" src="layer.webm" muted preload="auto" style="display:block"></video><img id="frame" src="pictures/000010.png">`
	if err := os.WriteFile(filepath.Join(dir, "index.html"), []byte(html), 0o644); err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(http.FileServer(http.Dir(dir)))
	defer server.Close()
	b := browserTab(t, server.URL+"/", 640, 600, false)
	b.open(server.URL+"/", "#frame")
	b.value(`void (v => { v.currentTime = 1.05; })(document.getElementById('film'))`, nil)
	b.until("the film stands at 1 s", `(v => v.readyState >= 2 && !v.seeking && Math.abs(v.currentTime - 1.05) < 0.01)(document.getElementById('film'))`, time.Minute)
	// Each is drawn over nothing, and over red; what differs is counted.
	var got struct {
		Size                         [2]int
		Clear, Opaque, Red, RedWrong int
		Alpha, Mixed                 int // the greatest difference
		Tones                        int // of alpha, that occur more than 1,000 times
	}
	b.value(`(() => {
		const drawn = (e, red) => {
			const c = document.createElement('canvas'), g = c.getContext('2d');
			c.width = 320; c.height = 240;
			if (red) { g.fillStyle = '#f00'; g.fillRect(0, 0, 320, 240); }
			g.drawImage(e, 0, 0);
			return g.getImageData(0, 0, 320, 240).data;
		};
		const film = document.getElementById('film'), frame = document.getElementById('frame');
		const [a, b, c, d] = [drawn(film, false), drawn(frame, false), drawn(film, true), drawn(frame, true)];
		const out = { Size: [film.videoWidth, film.videoHeight], Clear: 0, Opaque: 0, Red: 0, RedWrong: 0, Alpha: 0, Mixed: 0, Tones: 0 }, tones = {};
		for (let i = 0; i < a.length; i += 4) {
			tones[a[i + 3]] = (tones[a[i + 3]] ?? 0) + 1;
			out.Alpha = Math.max(out.Alpha, Math.abs(a[i + 3] - b[i + 3]));
			if (b[i + 3] === 0) {
				out.Clear++;
				if (c[i] === 255 && c[i + 1] === 0 && c[i + 2] === 0) out.Red++; else out.RedWrong++;
			} else {
				out.Opaque++;
				// Colour has half the resolution: at the edge of a tone it is its neighbour's.
				const x = i / 4 % 320, same = [-8, 8, -1280, 1280, -2560, 2560].every(o => b[i + 3 + o] === b[i + 3]) && x > 2 && x < 317;
				if (same) for (let k = 0; k < 3; k++) out.Mixed = Math.max(out.Mixed, Math.abs(c[i + k] - d[i + k]));
			}
		}
		out.Tones = Object.values(tones).filter(n => n > 1000).length;
		return out;
	})()`, &got)
	b.shot("layer")
	t.Logf("%d px see-through, all red but %d; %d px painted; alpha at most %d off (bound 0), colours over red %d (bound 2)", got.Clear, got.RedWrong, got.Opaque, got.Alpha, got.Mixed)
	if got.Size != [2]int{320, 240} || got.Clear < 5000 || got.Opaque < 20000 || got.Tones != 5 {
		t.Errorf("the page shows something else: %+v", got)
	}
	if got.RedWrong > 0 || got.Alpha > 0 || got.Mixed > 2 {
		t.Errorf("the layer is mixed with the page otherwise than its pictures are: %+v", got)
	}
}
