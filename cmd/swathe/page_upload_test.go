package main

import (
	"bytes"
	"crypto/sha256"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
)

// network sets how the browser is connected: bytes a second that it can send (-1:
// as many as it likes), or not at all.
func (b *tab) network(up float64, offline bool) {
	b.t.Helper()
	if _, err := chromedp.Call(b.ctx, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{
		MatchedNetworkConditions: []*network.Conditions{{Offline: offline, DownloadThroughput: -1, UploadThroughput: up}}}); err != nil {
		b.t.Fatal(err)
	}
}

// TestPageUploadGoesOn sends a recording that is cut four times: twice by the
// network, twice by the program ending and starting anew. Meanwhile the tester
// goes to other pages and back. It arrives whole, once. SWATHE_LONG=1 sends 3 GB,
// most of them holes.
func TestPageUploadGoesOn(t *testing.T) {
	dir, from := filepath.Join(t.TempDir(), "upload"), t.TempDir()
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	length, speed := int64(80<<20), 12e6
	if os.Getenv("SWATHE_LONG") == "1" {
		length, speed = 3<<30, 150e6
	}
	file := filepath.Join(from, "rowan_single_1.mp4")
	f, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	for at := int64(0); at < length; at += 1 << 20 {
		_, _ = f.WriteAt([]byte(time.Duration(at).String()), at) // each piece is unlike every other
	}
	if err := f.Truncate(length); err != nil {
		t.Fatal(err)
	}
	f.Close()

	address, stop := serving(t, dir)
	b := browserTab(t, address, 1024, 800, false)
	b.cut.Store(true)
	b.open(address, "#into")
	b.network(speed, false)
	b.do(chromedp.SendKeys(chromedp.CSS("#into"), "hall"), chromedp.SetUploadFiles(chromedp.CSS("#pick"), []string{file}))
	going := func(share float64) {
		t.Helper()
		b.until("it goes on", `document.querySelector('#arriving progress')?.value > `+strconv.FormatFloat(share, 'f', 3, 64), 3*time.Minute)
	}
	going(0.05)
	var how string
	b.until("speed and time left are told", `/ of .*\/s, .* left/.test(document.querySelector('#arriving .how').textContent)`, 20*time.Second)
	b.value(`document.querySelector('#arriving .how').textContent`, &how)
	t.Logf("%q", how)
	b.shot("sending")

	// To another page, and on from there; the upload goes on.
	b.click(`nav a[href="/help"]`)
	b.until("the help is shown", `document.getElementById('other')?.contentDocument?.querySelector('.help article') && location.pathname === '/help'`, 20*time.Second)
	b.shot("help-while-sending")
	b.value(`void document.getElementById('other').contentDocument.querySelector('nav a[href="/setup"]').click()`, nil)
	b.until("the set-up is shown", `location.pathname === '/setup'`, 20*time.Second)
	var uploading int
	b.value(`document.getElementById('other').contentDocument.querySelectorAll('#arriving li').length`, &uploading)
	if uploading != 0 {
		t.Errorf("the page in the frame shows %d uploads of its own", uploading)
	}

	lost := func() {
		t.Helper()
		b.until("the loss is told", `document.getElementById('arriving').textContent.includes('goes on by itself')`, 30*time.Second)
	}
	for i, share := range []float64{0.15, 0.35} {
		going(share)
		b.network(speed, true)
		lost()
		if i == 0 {
			b.shot("lost")
		}
		b.network(speed, false)
		going(share + 0.02)
		stop()
		lost()
		_, stop = serving(t, dir, "--listen", strings.Trim(strings.TrimPrefix(address, "http://"), "/"))
	}
	defer func() { stop() }()
	b.value(`void document.getElementById('other').contentDocument.querySelector('nav a[href="/"]').click()`, nil)
	b.until("the list is shown", `location.pathname === '/' && document.getElementById('other').contentDocument.querySelector('#rows')`, 20*time.Second)
	b.network(-1, false)
	b.until("it is there", `document.querySelector('#arriving li') === null`, 5*time.Minute)
	b.until("it is listed", `document.getElementById('other').contentDocument.querySelector('#rows tr[data-id="hall/rowan_single_1"]')`, 20*time.Second)
	if want, got := digest(t, file), digest(t, filepath.Join(dir, "recordings/hall/rowan_single_1.mp4")); !bytes.Equal(want, got) {
		t.Error("what arrived is not what was sent")
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "recordings/hall/.*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	// With nothing on its way the frame gives its place up.
	b.value(`void document.getElementById('other').contentDocument.querySelector('nav a[href="/export"]').click()`, nil)
	b.until("the page is the page again", `location.pathname === '/export' && !document.getElementById('other') && document.querySelector('#export')`, 20*time.Second)

	// One that is left in the middle waits for its other half, and can be removed.
	b.open(address, "#into")
	b.network(5e6, false)
	second := filepath.Join(from, "rowan_single_2.mp4")
	if err := os.WriteFile(second, bytes.Repeat([]byte("0123456789abcdef"), 4<<20), 0o644); err != nil {
		t.Fatal(err)
	}
	b.do(chromedp.SetValue(chromedp.CSS("#into"), "hall"), chromedp.SetUploadFiles(chromedp.CSS("#pick"), []string{second}))
	going(0.1)
	b.network(-1, true)
	lost()
	b.value(`void (window.onbeforeunload = null)`, nil)
	b2 := browserTab(t, address, 1024, 800, true)
	b2.open(address, "#into")
	b2.until("the other browser lists it", `document.querySelector('#arriving li.part')?.textContent.includes('Choose or drop the same file again')`, 20*time.Second)
	b2.shot("part-elsewhere")
	b2.do(chromedp.SetValue(chromedp.CSS("#into"), "hall"), chromedp.SetUploadFiles(chromedp.CSS("#pick"), []string{second}))
	b2.until("it goes on from there", `document.querySelector('#rows tr[data-id="hall/rowan_single_2"]') && !document.querySelector('#arriving li')`, time.Minute)
	if want, got := digest(t, second), digest(t, filepath.Join(dir, "recordings/hall/rowan_single_2.mp4")); !bytes.Equal(want, got) {
		t.Error("what two browsers sent is not what was sent")
	}
	b.click(`#arriving button[aria-label^="Cancel"]`)
	b.until("it is cancelled", `!document.querySelector('#arriving li:not(.part)')`, 20*time.Second)
	if _, err := os.Stat(filepath.Join(dir, "recordings/hall/rowan_single_2.mp4")); err != nil {
		t.Errorf("cancelling in one browser removed what had arrived from another: %v", err)
	}
}

func digest(t *testing.T, file string) []byte {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		t.Fatal(err)
	}
	return h.Sum(nil)
}
