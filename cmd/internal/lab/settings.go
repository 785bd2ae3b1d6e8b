package lab

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"swathe/coverage"
	"swathe/coverage/conduct"
	"swathe/coverage/doubt"
	"swathe/geom"
)

// Settings are the thresholds that a lab may set for itself in lab.yaml, under
// settings. Make it with DefaultSettings.
type Settings struct {
	Coverage    coverage.Options
	Uncertainty doubt.Options
	Conduct     conduct.Options
	LeastSeen   float64 // share of a recording in which the robot must be seen
}

// DefaultSettings returns the settings of a lab that sets none.
func DefaultSettings() Settings {
	return Settings{Coverage: coverage.DefaultOptions(), Uncertainty: doubt.DefaultOptions(), Conduct: conduct.DefaultOptions(), LeastSeen: 0.6}
}

// Validate refuses what cannot be meant.
func (s Settings) Validate() error {
	if err := s.Coverage.Validate(); err != nil {
		return err
	}
	if err := s.Uncertainty.Validate(); err != nil {
		return err
	}
	return s.Conduct.Validate()
}

// Setting describes one entry of Settings: how lab.yaml spells it, its unit,
// its range and what it does. A new threshold is a field of one of the options
// and a row of SettingList.
type Setting struct {
	Name, Unit, Doc string
	Low, High       float64
	value           func(*Settings) *float64
	count           func(*Settings) *int  // in value's place for a whole number
	auto            func(*Settings) *bool // nil if the word auto means nothing here
	degrees         bool                  // written in degrees, kept in radians
}

// SettingList holds every setting, in the order in which help shows them.
var SettingList = slices.Concat(seenSettings, floorSettings, conductSettings)

// seenSettings are those of what a recording must show.
var seenSettings = []Setting{
	{Name: "least_seen", Low: 0, High: 1,
		Doc:   "share of the recording in which the robot must be seen; a run with less is refused",
		value: func(s *Settings) *float64 { return &s.LeastSeen }},
}

// floorSettings are those of the figures of the floor.
var floorSettings = []Setting{
	{Name: "cell", Unit: "m", Low: 0.001, High: 0.2,
		Doc:   "grid cell size, or auto for one that gives the covered area to 0.1 %",
		value: func(s *Settings) *float64 { return &s.Coverage.Cell },
		auto:  func(s *Settings) *bool { return &s.Coverage.CellAuto }},
	{Name: "moving_speed", Unit: "m/s", Low: 0, High: 1,
		Doc:   "speed above which the robot counts as moving",
		value: func(s *Settings) *float64 { return &s.Coverage.MovingSpeed }},
	{Name: "missed_patch", Unit: "m2", Low: 0, High: 10,
		Doc:   "smallest missed patch to list",
		value: func(s *Settings) *float64 { return &s.Coverage.MinPatch }},
	{Name: "beside", Unit: "m", Low: 0, High: 2,
		Doc:   "a missed patch within this distance of a wall or obstacle lies beside it",
		value: func(s *Settings) *float64 { return &s.Coverage.Beside }},
	{Name: "follow_distance", Unit: "m", Low: 0, High: 0.5,
		Doc:   "the robot follows an edge while its body is within this distance of it",
		value: func(s *Settings) *float64 { return &s.Coverage.FollowDistance }},
	{Name: "follow_angle", Unit: "degrees", Low: 0, High: 80, degrees: true,
		Doc:   "and its travel is within this angle of the edge's direction",
		value: func(s *Settings) *float64 { return &s.Coverage.FollowAngle }},
	{Name: "outline_sigma", Unit: "m", Low: 0, High: 0.099,
		Doc:   "standard uncertainty, along each axis, of the corners of room and obstacles",
		value: func(s *Settings) *float64 { return &s.Uncertainty.OutlineSigma }},
	{Name: "width_tolerance", Unit: "m", Low: 0, High: 0.099,
		Doc:   "tolerance of a cleaning width given without one",
		value: func(s *Settings) *float64 { return &s.Uncertainty.WidthTol }},
	{Name: "offset_tolerance", Unit: "m", Low: 0, High: 0.099,
		Doc:   "tolerance of a tool's place (ahead, left) given without one",
		value: func(s *Settings) *float64 { return &s.Uncertainty.OffsetTol }},
	{Name: "diameter_tolerance", Unit: "m", Low: 0, High: 0.099,
		Doc:   "tolerance of a robot's width given without one",
		value: func(s *Settings) *float64 { return &s.Uncertainty.DiameterTol }},
	{Name: "height_tolerance", Unit: "m", Low: 0, High: 0.099,
		Doc:   "tolerance of a robot's height given without one",
		value: func(s *Settings) *float64 { return &s.Uncertainty.HeightTol }},
	{Name: "path_error_time", Unit: "s", Low: 0.1, High: 3600,
		Doc:   "time over which errors of the path are correlated, for the uncertainty of the figures",
		value: func(s *Settings) *float64 { return &s.Uncertainty.PathTime }},
	{Name: "path_sigma", Unit: "m", Low: 0, High: 0.99,
		Doc:   "standard uncertainty, along each axis, of a path measured elsewhere",
		value: func(s *Settings) *float64 { return &s.Uncertainty.PathSigma }},
	{Name: "draws", Low: 20, High: 200000,
		Doc:   "number of joint draws for the uncertainty of the figures; use 2000 for what you publish",
		count: func(s *Settings) *int { return &s.Uncertainty.Draws }},
	{Name: "budget_draws", Low: 10, High: 100000,
		Doc:   "number of draws of each input alone, to find its contribution",
		count: func(s *Settings) *int { return &s.Uncertainty.BudgetDraws }},
}

// Set sets the setting called name from text as a user writes it.
func (s *Settings) Set(name, text string) error {
	for _, d := range SettingList {
		if d.Name != name {
			continue
		}
		if d.auto != nil && text == "auto" {
			*d.auto(s) = true
			return nil
		}
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || !(v >= d.Low && v <= d.High) {
			return fmt.Errorf("%s is %q; it should be %s", name, text, d.want())
		}
		if d.auto != nil {
			*d.auto(s) = false
		}
		if d.count != nil {
			if v != math.Trunc(v) {
				return fmt.Errorf("%s is %q; it should be a whole number", name, text)
			}
			*d.count(s) = int(v)
			return nil
		}
		if d.degrees {
			v = geom.Radians(v)
		}
		*d.value(s) = v
		return nil
	}
	return fmt.Errorf("there is no setting %q.%s", name, DidYouMean(name, settingNames()))
}

func (d Setting) want() string {
	w := fmt.Sprintf("a number from %g to %g %s", d.Low, d.High, d.Unit)
	if d.auto != nil {
		w += ", or auto"
	}
	return strings.TrimSpace(w)
}

func settingNames() []string {
	var out []string
	for _, d := range SettingList {
		out = append(out, d.Name)
	}
	return out
}

// text returns the setting's value as lab.yaml would spell it.
func (d Setting) text(s *Settings) string {
	if d.auto != nil && *d.auto(s) {
		return "auto"
	}
	if d.count != nil {
		return strconv.Itoa(*d.count(s))
	}
	v := *d.value(s)
	if d.degrees {
		return degrees(v)
	}
	return num(v)
}

func (r *reader) settings(s *Settings, n, anchor ast.Node) {
	b, ok := r.block(n, anchor, "settings", settingNames()...)
	if !ok {
		return
	}
	for _, d := range SettingList {
		if !b.has(d.Name) {
			continue
		}
		text, ok := r.text(b.val(d.Name), b.label(d.Name))
		if !ok {
			continue
		}
		if err := s.Set(d.Name, text); err != nil {
			r.refuse(b.val(d.Name), "settings: %v.", err)
		}
	}
}

// Spell writes the value that a setting has, as lab.yaml would.
func (d Setting) Spell(s *Settings) string { return d.text(s) }
