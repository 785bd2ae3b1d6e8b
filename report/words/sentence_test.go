package words

import (
	"strings"
	"testing"
)

// By hand, with 0.3048 m to the foot and 25.4 mm to the inch (NIST SP 811).
func TestInUnit(t *testing.T) {
	for s, want := range map[string]string{
		"From 2:45 it drove 1.9 m over cleaned floor about (0.77, 1.18) m, 0.1 % of what it swept being new: 6.2 s.": "From 2:45 it drove 6.2~ft over cleaned floor about (2.5,~3.9)~ft, 0.1 % of what it swept being new: 6.2 s.",
		"It ran into the stool at 0.32 m/s and 90 degrees to it, at (2.24, -0.95) m, and turned away.":               "It ran into the stool at 1.05~ft/s and 90 degrees to it, at (7.3,~-3.1)~ft, and turned away.",
		"14 lanes, 140 mm apart, so that neighbours overlap by 20 mm.":                                               "14 lanes, 5.5~in apart, so that neighbours overlap by 0.8~in.",
		"5 min 3 s and 70.6 m of driving over 6.2 m² and 30 cm²":                                                     "5 min 3 s and 232~ft of driving over 66.7~ft² and 5~in²",
	} {
		got := strings.ReplaceAll(InUnit(s, Foot), "\u2212", "-")
		if got = strings.ReplaceAll(got, NB, "~"); got != want {
			t.Errorf("%q\n became %q,\n   want %q", s, got, want)
		}
		if same := InUnit(s, Metre); same != s {
			t.Errorf("in metres %q became %q", s, same)
		}
	}
}
