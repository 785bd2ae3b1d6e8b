package lab

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// What a lab declares of its own is read, and slips are told with their line.
func TestDeclarations(t *testing.T) {
	base := goodLab(t)
	own := `
laboratory: {name: Reed Street Test Room, address: Reed Street 4}
conditions:
  lint_lot: {type: text}
  ballast: {type: number, unit: kg, range: [0, 5]}
  door: {type: choice, of: [open, shut]}
quantities:
  cord_pull: {words: force on the cord, unit: g, of: robot, better: less, range: [0, 900]}
`
	l, err := Open(labDir(t, base+own))
	if err != nil {
		t.Fatal(err)
	}
	if l.Laboratory["name"] != "Reed Street Test Room" || len(l.Declared) != 3 || l.Declared[1].High != 5 || len(l.Quantities) != 1 || !l.Quantities[0].OfRobot || l.Quantities[0].Better != -1 {
		t.Errorf("read as %+v %+v %+v", l.Laboratory, l.Declared, l.Quantities)
	}
	for _, c := range []struct{ old, new, want string }{
		{"type: text", "type: words", `condition lint_lot: type is "words"; it should be one of text, number, choice, date`},
		{", of: [open, shut]", "", "a choice needs its words"},
		{"[0, 5]", "[5, 0]", "the second number should be greater"},
		{"lint_lot", "start_s", `"start_s" is already a key of the notes`},
		{"unit: g,", "unit: stone,", `there is no unit "stone"`},
		{"better: less", "better: best", `better is "best"; it should be more or less or neither`},
		{"address:", "adress:", `Did you mean "address"?`},
	} {
		_, err := Open(labDir(t, base+strings.Replace(own, c.old, c.new, 1)))
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), SetupFile+":") {
			t.Errorf("%s: %v, want %q with its line", c.new, err, c.want)
		}
	}
	// Notes are held to it.
	for _, c := range []struct{ text, want string }{
		{"ballast: 2.5\ndoor: open\ndate: 2026-03-02 10:15\n", ""},
		{"ballast: 25\n", "ballast is 25; it should be from 0 to 5 kg"},
		{"ballast: heavy\n", `ballast is "heavy"; it should be a number of kg`},
		{"door: ajar\n", `door is "ajar"; it should be one of open, shut`},
		{"date: 2.3.2026\n", `date is "2.3.2026"; write 2026-03-02`},
		{"outcome: stuck\n", "it should be one of complete, assisted, trapped, battery empty, error"},
		{"balast: 2\n", `Did you mean "ballast"?`},
	} {
		err := l.CheckNotes("x.yaml", []byte(c.text))
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), "x.yaml:1")) {
			t.Errorf("%q: %v, want %q", c.text, err, c.want)
		}
	}
}

// What is typed for a day reaches the runs of that day, unless their notes say
// otherwise.
func TestDays(t *testing.T) {
	dir := labDir(t, goodLab(t))
	if err := os.WriteFile(filepath.Join(dir, DaysFile), []byte("2026-03-02:\n  operator: M. Reed\n  light: blinds shut\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	l, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	c := map[string]string{CondDate: "2026-03-02T10:15", "light": "lamp"}
	l.inherit(c)
	if c["operator"] != "M. Reed" || c["light"] != "lamp" {
		t.Errorf("inherited %v", c)
	}
	other := map[string]string{CondDate: "2026-03-03"}
	if l.inherit(other); len(other) != 1 {
		t.Errorf("another day inherited %v", other)
	}
	for text, want := range map[string]string{
		"monday:\n  operator: x\n":       `days.yaml:1: "monday" is not a day`,
		"2026-03-02:\n  operater: x\n":   `days.yaml:2: day 2026-03-02 has no key "operater". Did you mean "operator"?`,
		"2026-03-02:\n  humidity: 480\n": "days.yaml:2: humidity is 480; it should be from 0 to 100 %",
	} {
		if err := os.WriteFile(filepath.Join(dir, DaysFile), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(dir); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}
