package lab

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestParseRunName(t *testing.T) {
	for stem, want := range map[string]RunName{
		"wren_mapping_1":         {"wren", "mapping", 1},
		"wren_b_mapped_12":       {"wren_b", "mapped", 12},
		"a_mapping_b_single_3":   {"a_mapping_b", "single", 3},
		"wren_Mapped_2":          {"wren", "mapped", 2},
		"wren 2000+_mapped_0002": {"wren 2000+", "mapped", 2},
	} {
		got, err := ParseRunName(stem)
		if err != nil || got != want {
			t.Errorf("%s: %+v, %v; want %+v", stem, got, err, want)
		}
	}
	for stem, want := range map[string]string{
		"wren":            "does not identify a run",
		"wren_mapping":    `should end in the trial number, 1 or more; it ends in "mapping"`,
		"wren_mapping_0":  "1 or more",
		"wren_mapping_-1": "1 or more",
		"wren_mapping_+1": "1 or more",
		"wren_maping_1":   `Did you mean "mapping"?`,
		"mapping_1":       "lacks the robot or the phase",
		"_mapping_1":      "lacks the robot",
	} {
		if _, err := ParseRunName(stem); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", stem, err, want)
		}
	}
}

// put writes recordings (empty files do: names alone are looked at here) and
// notes beside them.
func put(t *testing.T, l *Lab, files map[string]string) {
	t.Helper()
	for name, text := range files {
		full := filepath.Join(l.RecordingsDir(), name)
		if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(full, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// listed spells what Recordings found: runs with their files, then refusals.
func listed(t *testing.T, l *Lab) (runs, refused []string) {
	t.Helper()
	r, f, err := l.Recordings()
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range r {
		var names []string
		for _, p := range x.Files {
			names = append(names, filepath.Base(p))
		}
		runs = append(runs, x.ID()+": "+strings.Join(names, " "))
	}
	for _, x := range f {
		refused = append(refused, x.ID()+": "+x.Message)
	}
	slices.Sort(refused)
	return runs, refused
}

func TestRecordings(t *testing.T) {
	l := openGood(t)
	if _, _, err := l.Recordings(); err == nil || !strings.Contains(err.Error(), "there is no folder recordings") {
		t.Errorf("without a folder: %v", err)
	}
	put(t, l, map[string]string{
		"cluttered/wren_b_mapping_1.mp4":       "",
		"cluttered/wren_b_mapped_1_part1.MKV":  "",
		"cluttered/wren_b_mapped_1_part2.mkv":  "",
		"cluttered/wren_b_mapped_1_part10.mkv": "",
		"cluttered/wren_b_mapped_2.webm":       "",
		"cluttered/plover_single_1.csv":        "",
		"cluttered/C0042.MTS":                  "",
		"cluttered/C0043.MTS":                  "",
		"cluttered/readme.txt":                 "",
		"cluttered/.wren_b_mapped_3.mp4":       "",
		"cluttered/wren_b_mapped_3.mp4.part":   "",
		"cluttered/wren_b_mapped_3.tmp":        "",
		"cluttered/wren_b_mapped_3.mp4~":       "",
		"cluttered/runs.csv":                   "file,robot,phase,trial,part\nC0042.MTS,plover,mapped,1,1\nC0043.MTS,plover,mapped,1,2\ngone.mp4,plover,mapped,2,\n",
		".cache/wren_b_mapped_1.mp4":           "",
		"cluttered/holidays/film.mp4":          "",
	})
	for i := 3; i <= 9; i++ {
		put(t, l, map[string]string{fmt.Sprintf("cluttered/wren_b_mapped_1_part%d.mkv", i): ""})
	}
	runs, refused := listed(t, l)
	if d := cmp.Diff([]string{
		"cluttered/plover_mapped_1: C0042.MTS C0043.MTS",
		"cluttered/plover_single_1: plover_single_1.csv",
		"cluttered/wren_b_mapped_1: wren_b_mapped_1_part1.MKV wren_b_mapped_1_part2.mkv wren_b_mapped_1_part3.mkv wren_b_mapped_1_part4.mkv wren_b_mapped_1_part5.mkv wren_b_mapped_1_part6.mkv wren_b_mapped_1_part7.mkv wren_b_mapped_1_part8.mkv wren_b_mapped_1_part9.mkv wren_b_mapped_1_part10.mkv",
		"cluttered/wren_b_mapped_2: wren_b_mapped_2.webm",
		"cluttered/wren_b_mapping_1: wren_b_mapping_1.mp4",
	}, runs); d != "" {
		t.Errorf("runs (-want +got):\n%s", d)
	}
	if d := cmp.Diff([]string{
		"cluttered/gone: recordings/cluttered/runs.csv:4 names gone.mp4, which is not in recordings/cluttered/. Copy it there, or remove the row.",
		"cluttered/holidays: recordings/cluttered/holidays/ is a folder inside a layout's folder and is not searched. Move its recordings up to recordings/cluttered/.",
	}, refused); d != "" {
		t.Errorf("refused (-want +got):\n%s", d)
	}
}

func TestRecordingsRefused(t *testing.T) {
	for _, c := range []struct {
		name  string
		files map[string]string
		want  string // the one refusal
	}{
		{"two of one name", map[string]string{"cluttered/plover_mapped_1.mp4": "", "cluttered/plover_mapped_1.mkv": ""}, "several recordings have the name of this run: plover_mapped_1.mkv, plover_mapped_1.mp4."},
		{"whole and parts", map[string]string{"cluttered/plover_mapped_1.mp4": "", "cluttered/plover_mapped_1_part1.mp4": ""}, "several recordings have the name of this run"},
		{"a part is missing", map[string]string{"cluttered/plover_mapped_1_part1.mp4": "", "cluttered/plover_mapped_1_part3.mp4": ""}, "part 2 is missing"},
		{"first part is missing", map[string]string{"cluttered/plover_mapped_1_part2.mp4": ""}, "part 1 is missing"},
		{"video and path", map[string]string{"cluttered/plover_mapped_1_part1.mp4": "", "cluttered/plover_mapped_1_part2.csv": ""}, "a video and a path cannot be parts of one run"},
		{"unknown robot", map[string]string{"cluttered/plower_mapped_1.mp4": ""}, `there is no robot "plower" in lab.yaml or robots/. Did you mean "plover"?`},
		{"unknown camera", map[string]string{"cluttered/plover_mapped_1.mp4": "", "cluttered/plover_mapped_1.yaml": "camera: attic"}, `the camera "attic", which lab.yaml lacks`},
		{"notes with a key of before", map[string]string{"cluttered/plover_mapped_1.mp4": "", "cluttered/plover_mapped_1.yaml": "\nunit: B"}, `recordings/cluttered/plover_mapped_1.yaml:2: the recording's notes has no key "unit". It is now called sample; rename it.`},
		{"run sheet with a column of before", map[string]string{"cluttered/C1.mp4": "", "cluttered/runs.csv": "file,robot,phase,trial,unit\nC1.mp4,plover,mapped,1,B"}, `runs.csv:1: the run sheet has no column "unit". It is now called sample; rename it.`},
		{"notes of unknown key", map[string]string{"cluttered/plover_mapped_1.mp4": "", "cluttered/plover_mapped_1.yaml": "\nfirmwear: 1"}, `recordings/cluttered/plover_mapped_1.yaml:2: the recording's notes has no key "firmwear". Did you mean "firmware"?`},
		{"end before start", map[string]string{"cluttered/plover_mapped_1.mp4": "", "cluttered/plover_mapped_1.yaml": "start_s: 9\nend_s: 5"}, "end_s should be later than start_s"},
		{"tool off backwards", map[string]string{"cluttered/plover_mapped_1.mp4": "", "cluttered/plover_mapped_1.yaml": "tool_off: [[5, 4]]"}, "tool_off: from_s should be 0 or more and to_s later"},
		{"negative gap", map[string]string{"cluttered/plover_mapped_1.mp4": "", "cluttered/plover_mapped_1.yaml": "gap_s: -1"}, "gap_s is -1"},
		{"notes of a later part", map[string]string{"cluttered/plover_mapped_1_part1.mp4": "", "cluttered/plover_mapped_1_part2.mp4": "", "cluttered/plover_mapped_1_part2.yaml": "mode: quiet"}, "the notes of a later part may hold only gap_s"},
		{"gaps that do not fit", map[string]string{"cluttered/plover_mapped_1.mp4": "", "cluttered/plover_mapped_1.yaml": "gap_s: [1, 2]"}, "gap_s has 2 numbers for 1 parts"},
		{"sheet without file", map[string]string{"cluttered/runs.csv": "robot,phase\na,b\n"}, "the column file is missing"},
		{"sheet of unknown column", map[string]string{"cluttered/runs.csv": "file,robto\n"}, `the run sheet has no column "robto". Did you mean "robot"?`},
		{"sheet with a bad trial", map[string]string{"cluttered/C1.mp4": "", "cluttered/C2.mp4": "", "cluttered/runs.csv": "file,robot,phase,trial\nC1.mp4,plover,mapped,one\nC2.mp4,plover,mapped,2\n"}, `trial is "one"`},
		{"sheet with a bad span", map[string]string{"cluttered/C1.mp4": "", "cluttered/runs.csv": "file,robot,phase,trial,tool_off\nC1.mp4,plover,mapped,1,5-9\n"}, `tool_off is "5-9"`},
		{"sheet names no recording", map[string]string{"cluttered/C1.txt": "", "cluttered/runs.csv": "file,robot,phase,trial\nC1.txt,plover,mapped,1\n"}, "not of a type that can be measured"},
	} {
		l := openGood(t)
		put(t, l, c.files)
		_, refused := listed(t, l)
		if len(refused) == 0 || !slices.ContainsFunc(refused, func(s string) bool { return strings.Contains(s, c.want) }) {
			t.Errorf("%s: %q, want %q", c.name, refused, c.want)
		}
	}
}

// A film of a type that is not measured is told, under its whole name so that a
// run of the same stem keeps its note; a copy under way, notes and pictures are not.
func TestOtherFilmsAreTold(t *testing.T) {
	const mp4 = "\x00\x00\x00\x18ftypmp42\x00\x00\x00\x00mp42isom" // ISO/IEC 14496-12, 4.3
	l := openGood(t)
	put(t, l, map[string]string{
		"cluttered/plover_mapped_1.mp4":          "",
		"cluttered/plover_mapped_1.gif":          "",
		"cluttered/plover_mapped_2":              mp4,
		"cluttered/old/plover_mapped_3.GIF":      "GIF89a",
		"loose.gif":                              "",
		"cluttered/plover_mapped_4.mp4.part":     mp4,
		"cluttered/.plover_mapped_5.mp4.Xy12":    mp4,
		"cluttered/plover_mapped_6.txt":          "stopped at 3 min",
		"cluttered/plover_mapped_7.png":          "\x89PNG\r\n\x1a\n",
		"cluttered/plover_mapped_8.recording_of": "nothing",
	})
	runs, refused := listed(t, l)
	if len(runs) != 1 || len(refused) != 4 {
		t.Fatalf("runs %q, told of %q", runs, refused)
	}
	for i, want := range []string{"cluttered/old: recordings/cluttered/old/ is a folder", "cluttered/plover_mapped_1.gif: plover_mapped_1.gif is a film of a type that cannot be measured. Convert it to .mp4", "cluttered/plover_mapped_2: plover_mapped_2 is a film", "loose.gif: loose.gif is a film"} {
		if !strings.HasPrefix(refused[i], want) {
			t.Errorf("told: %s; want %s", refused[i], want)
		}
	}
}

func TestNotes(t *testing.T) {
	l := openGood(t)
	put(t, l, map[string]string{
		"cluttered/a.mp4":       "",
		"cluttered/a.yaml":      "robot: plover\nphase: mapped\ntrial: 4\nstart_s: 2.5\ntool_off: [[1, 2], [3, 4.5]]\nlight: 300 lx\nnote: the cat walked in\n",
		"cluttered/b_part1.mp4": "",
		"cluttered/b_part2.mp4": "",
		"cluttered/b_part3.mp4": "",
		// The file beside a recording wins over the sheet; what only the sheet says stays.
		"cluttered/runs.csv":      "\ufefffile,robot,phase,trial,part,light,mode,tool_off\r\na.mp4,wren_b,single,9,,dark,quiet,\r\nb_part1.mp4,plover,mapping,1,1,,,\"[[1, 2], [3, 4]]\"\r\nb_part2.mp4,plover,mapping,1,2,,,\r\nb_part3.mp4,plover,mapping,1,3,,,\r\n",
		"cluttered/b_part3.yaml":  "gap_s: 7",
		"cluttered/unrelated.yml": "nonsense: [",
	})
	runs, refused, err := l.Recordings()
	if err != nil || len(refused) > 0 || len(runs) != 2 {
		t.Fatalf("%v, %d runs, %+v", err, len(runs), refused)
	}
	a, b := runs[0], runs[1]
	if a.ID() != "cluttered/plover_mapped_4" || a.Notes.Start != 2.5 || !math.IsNaN(a.Notes.End) || len(a.Notes.ToolOff) != 2 || a.Notes.ToolOff[1].To != 4.5 {
		t.Errorf("notes of a read as %s %+v", a.ID(), a.Notes)
	}
	if d := cmp.Diff(map[string]string{"light": "300 lx", "mode": "quiet"}, a.Notes.Conditions); d != "" || a.Notes.Note != "the cat walked in" {
		t.Errorf("conditions of a (-want +got):\n%s note %q", d, a.Notes.Note)
	}
	if g := b.Gaps(); len(g) != 2 || !math.IsNaN(g[0]) || g[1] != 7 {
		t.Errorf("gaps of b: %v, want one frame's time and 7 s", g)
	}
	if len(b.Notes.ToolOff) != 2 || b.Notes.ToolOff[1].From != 3 {
		t.Errorf("tool_off of b: %v", b.Notes.ToolOff)
	}
}
