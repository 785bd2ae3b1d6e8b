package lab

import (
	"reflect"
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
	for i := range v.NumField() {
		if p, ok := v.Field(i).Addr().Interface().(*float64); !ok || seen[p] == "" {
			t.Errorf("no setting sets %s", v.Type().Field(i).Name)
		}
	}
	if err := s.Conduct.Validate(); err != nil {
		t.Errorf("defaults written and read back are refused: %v", err)
	}
}
