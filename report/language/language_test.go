package language

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

const head = "msgid \"\"\nmsgstr \"\"\n\"Language: xx\\n\"\n\"X-Decimal-Sign: ,\\n\"\n"

func read(t *testing.T, text string) *Catalogue {
	t.Helper()
	c, err := parse("xx.po", head+text)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// What is said of each text, with places, names, numbers, sentences in a row and
// capitals; what is lacking stays English and is reported.
func TestSay(t *testing.T) {
	c := read(t, `
msgid "and"
msgstr "et"

msgid "cleaned {1} in {2}"
msgstr "en {2}: {1}"

msgid "it met the {=1} at {2}"
msgstr "rencontre ({2}) de {=1}"

msgid "twice"
msgstr "deux fois"

msgid "of the "
"floor"
msgstr "du sol"
`)
	c.Keep("sofa", "Sofa 2.5")
	for in, want := range map[string]string{
		"":                                     "",
		"0.31\u00a0m":                          "0,31\u00a0m",
		"3:08, 12.5\u00a0%":                    "3:08, 12,5\u00a0%",
		"1.2.3":                                "1.2.3",
		"twice":                                "deux fois",
		"Twice.":                               "Deux fois.",
		"Cleaned 1.5\u00a0m² in 3\u00a0s":      "En 3\u00a0s: 1,5\u00a0m²",
		"it met the sofa at 0.2\u00a0m/s":      "rencontre (0,2\u00a0m/s) de sofa",
		"It met the Sofa 2.5 at 1\u00a0m/s.":   "Rencontre (1\u00a0m/s) de Sofa 2.5.",
		"it met the chair at 1\u00a0m/s":       "it met the chair at 1\u00a0m/s",
		"of the floor  81.9\u00a0%":            "du sol  81,9\u00a0%",
		"Twice. It met the sofa at 1\u00a0m/s": "Deux fois. Rencontre (1\u00a0m/s) de sofa",
		"twice and twice":                      "deux fois et deux fois",
		"twice, never":                         "deux fois, never",
	} {
		if got := c.Say(in); got != want {
			t.Errorf("%q is %q, want %q", in, got, want)
		}
	}
	if got := c.Missing(); !slices.Equal(got, []string{"it met the chair at 1\u00a0m/s", "never"}) {
		t.Errorf("lacking: %q", got)
	}
	var none *Catalogue
	none.Keep("x")
	if none.Say("0.5 m") != "0.5 m" || none.Missing() != nil {
		t.Error("without a catalogue a text changes")
	}
}

// A long text is put together from its parts in short time: each part is looked up once.
func TestSayOfLongTexts(t *testing.T) {
	c := read(t, "\nmsgid \"twice\"\nmsgstr \"deux fois\"\n")
	long := strings.Repeat("unknown, twice; never and twice. ", 12)
	if got := c.Say(long); strings.Count(got, "deux fois") != 24 {
		t.Errorf("%q", got)
	}
}

func TestFilesThatAreRefused(t *testing.T) {
	for text, want := range map[string]string{
		"msgid \"\"\nmsgstr \"\"\n":                                 "head",
		head + "msgid \"a\"\nmsgstr b\n":                            "xx.po:6",
		head + "nonsense\n":                                         "xx.po:5",
		head + "msgid \"a\"\nmsgstr \"b {1}\"\n":                    "{1}",
		head + "msgid \"{1}{2}\"\nmsgstr \"{2}\"\n":                 "no word of its own",
		head + "msgid \"a\"\nmsgstr \"\"\nmsgid \"a\"\nmsgstr \"\"": "already",
	} {
		if _, err := parse("xx.po", text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
	for _, name := range []string{"fr", "missing.po"} {
		if _, err := Open(name); err == nil {
			t.Errorf("%q was opened", name)
		}
	}
}

// The template holds every text of the language that is complete, and can be read as it
// is: then all stays English.
func TestTemplate(t *testing.T) {
	raw, err := Template()
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "xx.po")
	if err := os.WriteFile(file, raw, 0o644); err != nil {
		t.Fatal(err)
	}
	c, err := Open(file)
	if err != nil {
		t.Fatal(err)
	}
	de, err := Open("de")
	if err != nil {
		t.Fatal(err)
	}
	n := strings.Count(string(raw), "msgid ") - 1
	if n != len(de.exact)+len(de.form) || c.Say("cleaned once") != "cleaned once" {
		t.Errorf("%d texts in the template, %d in the German one", n, len(de.exact)+len(de.form))
	}
	t.Logf("%d texts", n)
}

// FuzzFile: no file ends the program, and what is read can be asked for anything.
func FuzzFile(f *testing.F) {
	f.Add(head+"msgid \"a {1}\"\nmsgstr \"{1} b\"\n", "a 1.5 m")
	f.Add("msgid \"", "x")
	f.Add(head+"msgid \"{1}-{2}\"\nmsgstr \"{2}\"\n", "ab. cd, ef")
	f.Fuzz(func(t *testing.T, file, text string) {
		c, err := parse("xx.po", file)
		if err != nil || len(text) > 200 {
			return
		}
		c.Keep(text)
		c.Say(text + ", x")
		c.Missing()
	})
}
