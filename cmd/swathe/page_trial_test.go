package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// TestPageTrial goes the way of a tester who plans, records, weighs and publishes
// in the browser alone: a plan is made, a camera's own file is named by one click,
// what holds for the day is typed once, a run's own conditions and outcome are
// stated, readings are refused and entered, and the dossier has all of it.
// TestPageEndToEnd comes here from an empty folder.
func TestPageTrial(t *testing.T) {
	if os.Getenv("SWATHE_LONG") == "" {
		t.Skip("11 s; SWATHE_LONG=1 runs it. The requests behind it are tested daily, in cmd/internal/serve")
	}
	dir := filepath.Join(t.TempDir(), "trial")
	pathLab(t, dir)
	in := filepath.Join(dir, "recordings/cluttered")
	if err := os.Rename(filepath.Join(in, "siskin_mapped_1.csv"), filepath.Join(in, "C0001.csv")); err != nil {
		t.Fatal(err)
	}
	for _, n := range []string{"siskin_mapped_2", "siskin_mapping_1"} {
		if err := os.Remove(filepath.Join(in, n+".csv")); err != nil {
			t.Fatal(err)
		}
	}
	address := served(t, dir)
	browserTab(t, address, 1024, 900, false).trial(address, "C0001.csv")
}

// trial goes from the plan to the dossier in a lab with a layout cluttered and a
// robot siskin. file is a recording without a name; empty: the run is there already.
func (b *tab) trial(address, file string) {
	b.t.Helper()
	fill := func(id, text string) {
		b.t.Helper()
		b.value(fmt.Sprintf(`(() => { const e = document.querySelector(%q); e.focus(); e.value = ''; })()`, id), nil)
		b.do(chromedp.KeyEvent(text))
	}
	choose := func(id, value string) {
		b.t.Helper()
		b.value(fmt.Sprintf(`(() => { const e = document.querySelector(%q); e.value = %q; e.dispatchEvent(new Event('change')); })()`, id, value), nil)
	}
	main := func() string {
		var text string
		b.value(`document.querySelector('main').innerText.replaceAll('\u00a0', ' ')`, &text)
		return text
	}
	// until again and again opens a page until something stands on it.
	again := func(what, path, script string) {
		b.t.Helper()
		for end := time.Now().Add(time.Minute); ; time.Sleep(200 * time.Millisecond) {
			b.open(address+path, "main h1")
			var ok bool
			if b.value("Boolean("+script+")", &ok); ok {
				return
			}
			if time.Now().After(end) {
				b.t.Fatalf("after a minute still not: %s\n%s", what, main())
			}
		}
	}
	// saved waits until the page said so and came anew.
	saved := func(what string) {
		b.t.Helper()
		b.until(what, `window.allSaid?.includes('Saved.')`, 5*time.Second)
		b.until("the page comes anew", `!window.allSaid?.includes('Saved.') && document.readyState === 'complete'`, 5*time.Second)
	}
	const entered = "entered"
	const run = "cluttered/siskin_mapped_1"

	b.open(address+"plan", "#new-plan")
	b.shot("plan-none")
	b.click("#new-plan button")
	b.see("#entries")
	b.shot("plan-made")
	if file != "" {
		again("the recording is offered", "plan", `document.querySelector('button[data-robot="siskin"][data-phase="mapped"][data-trial="1"]')`)
		b.click(`button[data-robot="siskin"][data-phase="mapped"][data-trial="1"]`)
		b.until("it is named", `!document.querySelector('button[data-file]') && document.readyState === 'complete'`, 10*time.Second)
	}
	again("the run is measured", "plan", `document.querySelector('a[href="/runs/`+run+`"]')`)

	b.open(address+"plan?day=2026-03-02", "#day")
	fill(`#day [name="operator"]`, "M. Reed")
	fill(`#day [name="temperature"]`, "215")
	b.click("#day button")
	b.until("a slip is told", `document.getElementById('say').textContent.includes('from -20 to 60')`, 5*time.Second)
	fill(`#day [name="temperature"]`, "21.5")
	b.click("#day button")
	saved("the day is saved")

	b.open(address+"runs/"+run, "#stated")
	fill(`#stated [name="date"]`, "2026-03-02 10:15")
	fill(`#stated [name="firmware"]`, "1.4")
	choose(`#stated [name="outcome"]`, "complete")
	b.click("#stated button")
	saved("the conditions are saved")
	again("the day is inherited", "runs/"+run, `document.querySelector('#stated [name="operator"]')?.value === 'M. Reed'`)

	b.open(address+"bench", "#reading")
	enter := func(quantity, value, unit, want string) {
		b.t.Helper()
		choose("#b-robot", "siskin")
		choose("#b-quantity", quantity)
		fill("#b-value", value)
		fill("#b-unit", unit)
		b.click("#reading .actions button")
		if want == entered { // the field is empty again
			b.until(quantity+" "+value+" "+unit, `document.getElementById('b-value').value === '' && document.getElementById('b-wrong').hidden`, 5*time.Second)
			return
		}
		b.until(quantity+" "+value+" "+unit+": "+want, `(document.getElementById('b-wrong').hidden ? document.getElementById('say').textContent : document.getElementById('b-wrong').textContent).includes(`+"`"+want+"`"+`)`, 5*time.Second)
	}
	b.click("#reading summary")
	fill("#b-surface", "carpet")
	enter("mass_laid_out", "50", "kPa", "a unit of pressure")
	enter("mass_laid_out", "50", "g", entered)
	enter("mass_laid_out", "51", "g", "was entered before as 50 g")
	enter("mass_picked_up", "55", "g", "more than the 50 g laid out")
	enter("mass_picked_up", "41", "g", entered)
	fill("#b-surface", "")
	choose("#b-layout", "cluttered")
	choose("#b-phase", "mapped")
	enter("energy", "2.5", "W h", entered)
	b.shot("bench")

	b.until("the conditions are in the result", `fetch('/results/`+run+`/run.json').then(r => r.json()).then(r => r.conditions.operator === 'M. Reed' && r.conditions.firmware === '1.4')`, 30*time.Second)
	b.open(address+"runs/"+run, "#stated")
	b.shot("run")
	for _, want := range []string{"Time at work", "Energy drawn", "2.50 W h", "M. Reed", "21.5 °C"} {
		if text := main(); !strings.Contains(text, want) {
			b.t.Errorf("the run's page lacks %q", want)
		}
	}
	b.open(address+"robots", `a[href="/dossiers/siskin"]`)
	b.shot("robots")
	b.click(`a[href="/dossiers/siskin"]`)
	b.see("header h1")
	b.shot("dossier")
	for _, want := range []string{"Dossier: siskin", "82.0", "operator M. Reed", "temperature 21.5", "Energy drawn", "complete"} {
		var text string
		b.value(`document.body.innerText.replaceAll('\u00a0', ' ')`, &text)
		if !strings.Contains(strings.ToLower(text), strings.ToLower(want)) {
			b.t.Errorf("the dossier lacks %q", want)
		}
	}
}
