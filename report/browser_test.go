package report

import (
	"bytes"
	"compress/zlib"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// browser starts a headless Chromium. Where there is none the test is left out,
// unless SWATHE_BROWSER says that there has to be one.
func browser(t *testing.T) context.Context {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		if os.Getenv("SWATHE_BROWSER") == "1" {
			t.Fatal("no Chromium on PATH: apt-get install chromium")
		}
		t.Skip("no Chromium on PATH; with SWATHE_BROWSER=1 this fails")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU)
	alloc, stop := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(stop)
	ctx, done := chromedp.NewContext(alloc)
	t.Cleanup(done)
	ctx, cancel := context.WithTimeout(ctx, 90*time.Second)
	t.Cleanup(cancel)
	return ctx
}

// contrastScript collects the contrast of every piece of text with its ground, in a page
// whose elements have opaque grounds or none.
const contrastScript = `(() => {
  const out = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const text = walk.currentNode.textContent.trim();
    if (!text) continue;
    const e = walk.currentNode.parentElement;
    let g = e, ground = "";
    for (; g; g = g.parentElement) {
      ground = getComputedStyle(g).backgroundColor;
      if (!/, 0\)$/.test(ground)) break;
    }
    out.push([getComputedStyle(e).color, ground, text.slice(0, 40)]);
  }
  return out;
})()`

func ok(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func TestThePageInABrowser(t *testing.T) {
	ctx := browser(t)
	file := "file://" + writePage(t)
	var mu sync.Mutex
	var asked, complaints []string
	ok(t, chromedp.Listen(ctx, func(ev any) {
		mu.Lock()
		defer mu.Unlock()
		switch e := ev.(type) {
		case *network.EventRequestWillBeSent:
			if u := e.Request.URL; u != file && !strings.HasPrefix(u, "data:") {
				asked = append(asked, u)
			}
		case *runtime.EventExceptionThrown:
			complaints = append(complaints, e.ExceptionDetails.Text)
		case *runtime.EventConsoleAPICalled:
			complaints = append(complaints, fmt.Sprint(e.Type))
		case *log.EventEntryAdded:
			complaints = append(complaints, e.Entry.Text)
		}
	}))
	_, err := chromedp.Call(ctx, network.Enable, network.EnableParams{})
	ok(t, err)
	_, err = chromedp.Call(ctx, log.Enable, cdp.Empty{})
	ok(t, err)
	ok(t, chromedp.Do(ctx, chromedp.Navigate(file), chromedp.WaitReady("main")))
	type counts struct{ All, Described, Shown, Seen int }
	const count = `(() => { const i = [...document.images]; return {
		All: i.length, Described: i.filter(x => x.alt.length > 40).length,
		Shown: i.filter(x => x.complete && x.naturalWidth > 0).length,
		Seen: i.filter(x => x.offsetWidth > 0).length } })()`
	pictures, err := chromedp.Run(ctx, chromedp.Evaluate[counts](count))
	ok(t, err)
	if pictures.All < 8 || pictures.Seen*2 != pictures.All || pictures.Described != pictures.All || pictures.Shown != pictures.All {
		t.Errorf("pictures in both themes, described, loaded, in sight: %+v", pictures)
	}
	for _, scheme := range []string{"light", "dark"} {
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
		ok(t, err)
		text, err := chromedp.Run(ctx, chromedp.Evaluate[[][3]string](contrastScript))
		ok(t, err)
		least := 99.0
		for _, x := range text {
			var a, b [3]float64
			fmt.Sscanf(x[0], "rgb(%f, %f, %f)", &a[0], &a[1], &a[2])
			if n, _ := fmt.Sscanf(x[1], "rgb(%f, %f, %f)", &b[0], &b[1], &b[2]); n != 3 {
				t.Fatalf("ground %q of %q", x[1], x[2])
			}
			c := ratio(a[0], a[1], a[2], b[0], b[1], b[2])
			least = min(least, c)
			if c < 4.5 {
				t.Errorf("%s: %q has contrast %.2f, want 4.5", scheme, x[2], c)
			}
		}
		t.Logf("%s: %d pieces of text, least contrast %.1f, bound 4.5", scheme, len(text), least)
		if dir := os.Getenv("SWATHE_LOOK"); dir != "" {
			img, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
			ok(t, err)
			ok(t, os.WriteFile(filepath.Join(dir, "page-"+scheme+".png"), img, 0o644))
		}
	}
	for _, width := range []int64{320, 360, 390, 768, 1400} {
		_, err := chromedp.Call(ctx, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: width, Height: 800, DeviceScaleFactor: 1, Mobile: width < 500})
		ok(t, err)
		over, err := chromedp.Run(ctx, chromedp.Evaluate[float64](`document.documentElement.scrollWidth - innerWidth`))
		ok(t, err)
		if over > 0 {
			t.Errorf("at %d pixels the page is %v pixels too wide", width, over)
		}
	}
	mu.Lock()
	if len(asked) > 0 {
		t.Errorf("the page asked for %v", asked)
	}
	if len(complaints) > 0 {
		t.Errorf("the browser says: %v", complaints)
	}
	mu.Unlock()
	for name, inches := range map[string][2]float64{"A4": {8.27, 11.69}, "Letter": {8.5, 11}} {
		res, err := chromedp.Call(ctx, cdppage.PrintToPDF, cdppage.PrintToPDFParams{PaperWidth: inches[0], PaperHeight: inches[1]})
		ok(t, err)
		pdf := res.Data
		if dir := os.Getenv("SWATHE_LOOK"); dir != "" {
			if err := os.WriteFile(filepath.Join(dir, name+".pdf"), pdf, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		drawn := imagesDrawn(pdf)
		t.Logf("%s: %d pages, pictures drawn %d times for %d pictures", name, bytes.Count(pdf, []byte("/Type /Page\n")), drawn, pictures.Seen)
		if drawn != pictures.Seen {
			t.Errorf("%s: %d pictures are drawn %d times: one is cut by the end of a page, or missing", name, pictures.Seen, drawn)
		}
	}
	sawCut(ctx, t)
}

// sawCut checks that the count of the test above sees a cut: a picture higher
// than a page is drawn on two.
func sawCut(ctx context.Context, t *testing.T) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "tall.html")
	ok(t, os.WriteFile(file, []byte(`<main><img src="data:image/png;base64,iVBORw0KGgoAAAANSUhEUgAAAAIAAAACCAIAAAD91JpzAAAAE0lEQVR4nGNoYGBgAGGGhoYGBgAPjgKBmVafWwAAAABJRU5ErkJggg==" style="width:300px;height:1700px"></main>`), 0o644))
	ok(t, chromedp.Do(ctx, chromedp.Navigate("file://"+file), chromedp.WaitReady("main")))
	res, err := chromedp.Call(ctx, cdppage.PrintToPDF, cdppage.PrintToPDFParams{PaperWidth: 8.27, PaperHeight: 11.69})
	ok(t, err)
	if n := imagesDrawn(res.Data); n != 2 {
		t.Errorf("one picture over two pages is counted %d times", n)
	}
}

var doImage = regexp.MustCompile(`/X(\d+) Do`)

// imagesDrawn counts how often a PDF's pages draw a picture: one that is cut by
// the end of a page is drawn on both.
func imagesDrawn(pdf []byte) int {
	isImage := map[string]bool{}
	object := regexp.MustCompile(`(?s)(\d+) 0 obj\s*<<(.*?)>>\s*stream`)
	for _, m := range object.FindAllSubmatch(pdf, -1) {
		if bytes.Contains(m[2], []byte("/Subtype /Image")) {
			isImage[string(m[1])] = true
		}
	}
	n := 0
	for _, part := range bytes.Split(pdf, []byte("stream\n"))[1:] {
		z, err := zlib.NewReader(bytes.NewReader(part))
		if err != nil {
			continue
		}
		text, _ := io.ReadAll(z)
		for _, m := range doImage.FindAllSubmatch(text, -1) {
			if isImage[string(m[1])] {
				n++
			}
		}
	}
	return n
}
