package words

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestTable(t *testing.T) {
	got := Table([][]string{{"run", "share", "note"}, {"den/tern_mapping_1", "93.1" + NB + "%", "all of the floor"}, {"den/tern_mapped_1", "8" + NB + "%", ""}}, 40, []bool{false, true})
	want := `run                  share  note
------------------  ------  ------------
den/tern_mapping_1  93.1` + NB + `%  all of the
                            floor
den/tern_mapped_1      8` + NB + `%
`
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// No line is longer than asked, and no word is lost.
func TestTableLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cell := rapid.StringMatching(`([a-zü]{1,7} ){0,6}`)
		rows := rapid.SliceOfN(rapid.SliceOfN(cell, 1, 5), 1, 6).Draw(t, "rows")
		width := rapid.IntRange(45, 100).Draw(t, "width")
		out := Table(rows, width, []bool{false, true})
		for _, line := range strings.Split(out, "\n") {
			if Columns(line) > width {
				t.Fatalf("a line of %d columns, more than %d: %q", Columns(line), width, line)
			}
		}
		count := map[string]int{}
		for _, r := range rows {
			for _, c := range r {
				for _, w := range strings.Fields(c) {
					count[w]++
				}
			}
		}
		for _, w := range strings.Fields(out) {
			if strings.Trim(w, "-") != "" {
				count[w]--
			}
		}
		for w, n := range count {
			if n != 0 {
				t.Fatalf("%q: %d more in than out", w, n)
			}
		}
	})
}
