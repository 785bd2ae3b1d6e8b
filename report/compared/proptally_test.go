package compared

import (
	"strings"
	"testing"
)

// Two of three trials: the intervals are those of R. G. Newcombe, Statistics in
// Medicine 17 (1998), method 3, computed from its closed form; an untested
// trial is not in the denominator.
func TestObjectTallies(t *testing.T) {
	got := objectTallies([]map[string]string{
		{"sock": "run over", "cord": "avoided"}, {"sock": "run over", "cord": "untested"}, {"sock": "avoided"}, {"sock": "untested"},
	})
	if len(got) != 2 || got[0].Name != "cord" || got[1].Name != "sock" {
		t.Fatalf("%+v", got)
	}
	s := got[1]
	if s.Tested != 3 || s.Untested != 1 || s.Counts["run over"] != 2 || s.Counts["avoided"] != 1 {
		t.Errorf("%+v", s)
	}
	lo, hi := s.Shares["run over"].Lo, s.Shares["run over"].Hi
	if lo < 0.20765 || lo > 0.20775 || hi < 0.93845 || hi > 0.93855 {
		t.Errorf("2 of 3: %.5f to %.5f, want 0.2077 to 0.9385", lo, hi)
	}
	if !strings.Contains(s.Sentence, "run over in 2 of 3 trials") {
		t.Error(s.Sentence)
	}
	if objectTallies([]map[string]string{nil, nil}) != nil {
		t.Error("no test objects, and yet a tally")
	}
}
