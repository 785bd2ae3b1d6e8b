package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// served starts serve on a lab, in this process, and returns the page's address.
func served(t *testing.T, dir string, more ...string) string {
	t.Helper()
	address, stop := serving(t, dir, more...)
	t.Cleanup(stop)
	return address
}

// serving is served, and how to stop it.
func serving(t *testing.T, dir string, more ...string) (string, func()) {
	t.Helper()
	ctx, stop := context.WithCancel(context.Background())
	r, w := io.Pipe()
	var said bytes.Buffer
	done := make(chan int, 1)
	go func() {
		args := append([]string{"serve", dir, "--listen", "127.0.0.1:0", "--settle", "300ms", "--poll", "300ms"}, more...)
		done <- run(ctx, args, w, &said)
		w.Close()
	}()
	line, err := bufio.NewReader(r).ReadString('\n')
	if err != nil {
		t.Fatalf("serve did not start: %v\n%s", err, said.String())
	}
	return strings.TrimSpace(line), func() {
		stop()
		select {
		case code := <-done:
			if code != exitOK {
				t.Errorf("serve ended with %d:\n%s", code, said.String())
			}
		case <-time.After(20 * time.Second):
			t.Error("serve does not stop")
		}
	}
}

// tab is a browser's page under test.
type tab struct {
	t     *testing.T
	ctx   context.Context
	shots string
	n     int
	cut   atomic.Bool // the connection is being cut on purpose: failed requests are no fault
}

// browserTab starts a headless Chromium that reports every complaint of the
// page and every request that leaves the machine.
func browserTab(t *testing.T, address string, width, height int64, dark bool) *tab {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("SWATHE_BROWSER") == "1" {
			t.Fatal("no Chromium on PATH: apt-get install chromium")
		}
		t.Skip("no Chromium on PATH; with SWATHE_BROWSER=1 this fails")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.WSURLReadTimeout(stepPatience),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		chromedp.WindowSize(int(width), int(height)))
	alloc, stop := chromedp.NewExecAllocator(context.Background(), opts...)
	t.Cleanup(stop)
	ctx, done := chromedp.NewContext(alloc)
	t.Cleanup(done)
	ctx, cancel := context.WithTimeout(ctx, 10*time.Minute)
	t.Cleanup(cancel)
	b := &tab{t: t, ctx: ctx, shots: os.Getenv("SWATHE_SHOTS")}
	if err := chromedp.Listen(ctx, func(ev any) {
		switch e := ev.(type) {
		case *runtime.EventExceptionThrown:
			t.Errorf("the page's script failed: %s", e.ExceptionDetails.Text+" "+fmt.Sprint(e.ExceptionDetails.Exception))
		case *log.EventEntryAdded:
			if e.Entry.Level == "error" && !strings.Contains(e.Entry.Text, "status of 4") && !(b.cut.Load() && strings.Contains(e.Entry.Text, "net::ERR_")) {
				t.Errorf("the browser complains: %s (%s)", e.Entry.Text, e.Entry.URL)
			}
		case *network.EventRequestWillBeSent:
			if u := e.Request.URL; !strings.HasPrefix(u, address) && !strings.HasPrefix(u, "data:") && !strings.HasPrefix(u, "blob:"+address) {
				t.Errorf("a request left the page: %s", u)
			}
		}
	}); err != nil {
		t.Fatal(err)
	}
	// What the page says goes away after a while; a test that waits in vain tells it.
	if _, err := chromedp.Call(ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: `addEventListener('DOMContentLoaded', () => {
		const say = document.getElementById('say');
		if (say) new MutationObserver(() => (window.allSaid ??= []).push(say.textContent)).observe(say, { childList: true, characterData: true, subtree: true });
	});`}); err != nil {
		t.Fatal(err)
	}
	scheme := "light"
	if dark {
		scheme = "dark"
	}
	_, err1 := chromedp.Call(ctx, network.Enable, network.EnableParams{})
	_, err2 := chromedp.Call(ctx, log.Enable, cdp.Empty{})
	_, err3 := chromedp.Call(ctx, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: width, Height: height, DeviceScaleFactor: 1})
	_, err4 := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}})
	if err := errors.Join(err1, err2, err3, err4); err != nil {
		t.Fatal(err)
	}
	return b
}

// step is something done in the browser.
type step = chromedp.Action[chromedp.Void]

// stepPatience is how long a step may take before the test gives up.
const stepPatience = 90 * time.Second

func (b *tab) do(steps ...step) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, stepPatience)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		b.shot("failed")
		b.t.Fatal(err)
	}
}

func (b *tab) open(url, until string) { b.t.Helper(); b.do(chromedp.Navigate(url)); b.see(until) }
func (b *tab) see(sel string)         { b.t.Helper(); b.do(chromedp.WaitVisible(chromedp.CSS(sel))) }

// click presses the mouse on an element. It is looked for and pressed at once,
// for the page may build it anew in between.
func (b *tab) click(sel string) {
	b.t.Helper()
	var at, before *[2]float64
	// A page that is still being laid out moves things away from under the
	// pointer: wait until the element stays, with nothing over it. What it does is
	// there once the page is loaded whole: a form sent before is sent as plain HTML.
	for end := time.Now().Add(5 * time.Second); ; time.Sleep(30 * time.Millisecond) {
		before = at
		var free bool
		b.value(fmt.Sprintf(`(() => { const e = document.querySelector(%q); if (!e) return null; e.scrollIntoView({ block: 'center' });
			const r = e.getClientRects()[0]; return r ? [r.left + r.width / 2, r.top + r.height / 2] : null; })()`, sel), &at)
		if at != nil {
			b.value(fmt.Sprintf(`(() => { const e = document.querySelector(%q), o = document.elementFromPoint(%g, %g); return document.readyState === 'complete' && !!e && !!o && (e.contains(o) || o.contains(e)); })()`, sel, at[0], at[1]), &free)
		}
		if at != nil && before != nil && *at == *before && free {
			break
		}
		if time.Now().After(end) {
			break
		}
	}
	if at == nil {
		b.shot("failed")
		b.t.Fatalf("there is no %s to click", sel)
	}
	b.do(chromedp.MouseClickXY(at[0], at[1]))
}

// shot keeps a picture of the page where SWATHE_SHOTS names a folder.
func (b *tab) shot(name string) {
	if b.shots == "" {
		return
	}
	if buf, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot()); err == nil {
		b.n++
		_ = os.WriteFile(filepath.Join(b.shots, fmt.Sprintf("%02d-%s.png", b.n, name)), buf, 0o644)
	}
}

// value evaluates a script to a value.
func (b *tab) value(script string, into any) {
	b.t.Helper()
	raw, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]byte](script, chromedp.EvalAwaitPromise))
	if err != nil {
		b.shot("failed")
		b.t.Fatalf("%v in: %s", err, script)
	}
	if into != nil {
		if err := json.Unmarshal(raw, into); err != nil {
			b.t.Fatalf("%v: %s gave %s", err, script, raw)
		}
	}
}

// until waits for a script to become true.
func (b *tab) until(what, script string, limit time.Duration) {
	b.t.Helper()
	end := time.Now().Add(limit)
	for {
		var ok bool
		raw, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]byte]("Boolean("+script+")", chromedp.EvalAwaitPromise))
		switch {
		case err != nil && strings.Contains(err.Error(), "navigated or closed"): // it was left for another just now
		case err != nil:
			b.shot("failed")
			b.t.Fatalf("%v in: %s", err, script)
		case json.Unmarshal(raw, &ok) != nil:
			b.t.Fatalf("%s gave %s", script, raw)
		}
		if ok {
			return
		}
		if time.Now().After(end) {
			b.shot("late")
			var text string
			b.value(`document.body.innerText`, &text)
			var said []string
			b.value(`window.allSaid ?? []`, &said)
			b.t.Fatalf("after %v still not: %s\n%s\nThe page said: %q", limit, what, text, said)
		}
		time.Sleep(100 * time.Millisecond)
	}
}

func keyed(key string) string { return fmt.Sprintf(`[data-key="%s"]`, key) }

// typed puts text into a field as a tester does: marks what is there, types,
// leaves with the tabulator.
func (b *tab) typed(key, text string) {
	b.t.Helper()
	// The forms are built anew a moment after a field was left.
	b.until("there is a field "+key, fmt.Sprintf(`(() => { const e = document.querySelector('%s'); e?.focus(); e?.select?.(); return e; })()`, keyed(key)), 5*time.Second)
	b.do(chromedp.KeyEvent(text), chromedp.KeyEvent(kb.Tab))
}

func (b *tab) press(key string) {
	b.t.Helper()
	b.until("there is a button "+key, fmt.Sprintf(`document.querySelector('%s')`, keyed(key)), 5*time.Second)
	b.click(keyed(key))
}
