package lab

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"swathe/coverage/conduct"
)

// Every threshold of what a robot did is a setting of its own, with its default
// within its range and a reason.
func TestConductSettings(t *testing.T) {
	var s Settings
	s.Conduct = conduct.DefaultOptions()
	v := reflect.ValueOf(&s.Conduct).Elem()
	seen := map[*float64]string{}
	for _, d := range conductSettings {
		p := d.value(&s)
		if other := seen[p]; other != "" {
			t.Errorf("%s and %s set the same threshold", d.Name, other)
		}
		seen[p] = d.Name
		if d.Doc == "" {
			t.Errorf("%s is not explained", d.Name)
		}
		text := d.text(&s)
		if err := s.Set(d.Name, text); err != nil {
			t.Errorf("its own default is refused: %v", err)
		}
	}
	// Those that are set elsewhere come from there.
	linked := []string{"EdgeDistance", "EdgeAngle", "OutlineSigma", "PathSigma", "BodyTol"}
	all := DefaultSettings()
	all.Coverage.FollowDistance, all.Coverage.FollowAngle = 0.011, 0.012
	all.Uncertainty.OutlineSigma, all.Uncertainty.PathSigma, all.Uncertainty.DiameterTol = 0.013, 0.014, 0.015
	o := all.ConductOptions()
	if o.EdgeDistance != 0.011 || o.EdgeAngle != 0.012 || o.OutlineSigma != 0.013 || o.PathSigma != 0.014 || o.BodyTol != 0.015 {
		t.Errorf("not taken from where they are set: %+v", o)
	}
	if got, want := len(all.Thresholds()), len(conductSettings)+len(linkedSettings); got != want {
		t.Errorf("%d thresholds told of, want %d", got, want)
	}
	for i := range v.NumField() {
		if slices.Contains(linked, v.Type().Field(i).Name) {
			continue
		}
		if p, ok := v.Field(i).Addr().Interface().(*float64); !ok || seen[p] == "" {
			t.Errorf("no setting sets %s", v.Type().Field(i).Name)
		}
	}
	if err := s.Conduct.Validate(); err != nil {
		t.Errorf("defaults written and read back are refused: %v", err)
	}
}

// A key that is gone is refused with what stands in its place, one that has
// another name with that.
func TestSettingsThatAreGone(t *testing.T) {
	for key, want := range map[string]string{"spin_slack": "It is gone: a spin turns by spin_turn or more.", "contact_gap": "outline_sigma", "edge_distance": "It is now called follow_distance"} {
		if got := hint(key, settingNames()); !strings.Contains(got, want) {
			t.Errorf("%s: %q", key, got)
		}
	}
}
