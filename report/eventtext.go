package report

import (
	"fmt"
	"math"
	"strings"

	"swathe/coverage/conduct"
	"swathe/geom"
	"swathe/report/words"
)

// Text is the event as a sentence with its time, made from its figures in the
// unit asked for; where it happened is said by what stands there on the plan
// (nil: left out). A kind that it does not know keeps the sentence it came with.
func (e Event) Text(plan *geom.Plan, unit words.Unit) string {
	c := e.clause(plan, unit)
	if c == "" {
		return e.Sentence
	}
	return "At " + words.Clock(e.StartS) + " " + c + "."
}

// What is Text without the time.
func (e Event) What(plan *geom.Plan, unit words.Unit) string {
	c := e.clause(plan, unit)
	if c == "" {
		return e.Sentence
	}
	return upperFirst(c) + "."
}

// more is one of the event's figures, NaN if it has none of that name.
func (e Event) more(name string) float64 {
	if v, ok := e.More[name]; ok {
		return v
	}
	return math.NaN()
}

// clause says what happened, "it ..."; empty for a kind that it does not know.
func (e Event) clause(plan *geom.Plan, unit words.Unit) string {
	lasting := words.Duration(e.EndS - e.StartS)
	length := func(m float64) string { return words.Length(m, math.NaN(), unit) }
	side := func(v float64) string {
		if v < 0 {
			return "right"
		}
		return "left"
	}
	degrees := func(v float64) string { return fmt.Sprintf("%.0f"+words.NB+"degrees", math.Abs(v)) }
	// where adds the place, if it is known.
	where := func(x, y float64) string {
		if l := landmark(plan, x, y); l != "" {
			return " " + l
		}
		return ""
	}
	here := where(e.X, e.Y)
	if v := e.more("middle_x_m"); !math.IsNaN(v) {
		here = where(v, e.more("middle_y_m"))
	}
	switch e.Kind {
	case conduct.Spin:
		return fmt.Sprintf("it turned %s to the %s on the spot%s in %s", degrees(e.Size), side(e.more("turn_deg")), here, lasting)
	case conduct.Pause:
		return fmt.Sprintf("it paused%s for %s, then went on", here, lasting)
	case conduct.Stuck:
		s := "it was stuck" + here + " for " + lasting
		if n := e.more("tries"); !math.IsNaN(n) {
			s += fmt.Sprintf(": it started, turned or reversed %.0f times without leaving the spot", n)
		}
		return s
	case conduct.Contact:
		if did := objectDid[e.Words["outcome"]]; did != "" {
			s := "it met the " + e.Words["with"]
			if v := e.Size; !math.IsNaN(v) {
				s += " at " + words.Speed(v, unit)
			}
			s += " and " + did
			if m := e.more("moved_m"); m > 0 {
				s += ", in total by " + length(m)
			}
			return s
		}
		s := "it touched the " + e.Words["with"]
		if v := e.Size; !math.IsNaN(v) {
			s += " at " + words.Speed(v, unit)
		}
		if a := e.more("angle_deg"); !math.IsNaN(a) {
			s += ", " + degrees(a) + " to it,"
		}
		if does := map[string]string{conduct.Stops: "stopped", conduct.Turns: "turned away", conduct.Slides: "slid along it"}[e.Words["reaction"]]; does != "" {
			s += " and " + does
		}
		return strings.TrimSuffix(s, ",")
	case conduct.Near:
		// An end is 0 where the interval reaches past the boundary.
		mm := func(name string) string { return length(math.Max(0, e.more(name))) }
		if e.more("distance_high_m") < 0 {
			return fmt.Sprintf("it entered the surveyed outline of the %[2]s by %[1]s: the survey is wrong, or it was moved", length(-e.more("distance_m")), e.Words["with"])
		}
		s := fmt.Sprintf("it came within %s (%s to %s) of the %s", mm("distance_m"), mm("distance_low_m"), mm("distance_high_m"), e.Words["with"])
		if v := e.more("speed_mps"); !math.IsNaN(v) {
			s += " at " + words.Speed(v, unit)
		}
		if does := map[string]string{conduct.Stops: "stopped", conduct.Turns: "turned away", conduct.Slides: "went on along it"}[e.Words["reaction"]]; does != "" {
			s += " and " + does
		}
		return s + "; contact cannot be decided"
	case conduct.Revisit:
		s := "it drove over cleaned floor" + here + " for " + lasting
		if d := e.more("distance_m"); !math.IsNaN(d) {
			s += " and " + length(d)
		}
		if n := e.more("new_share"); !math.IsNaN(n) {
			s += fmt.Sprintf("; %s of what it swept was new", words.Share(n, math.NaN()))
		}
		if m := e.Words["mostly"]; m != "" {
			s += "; mainly: " + m
		}
		return s
	case conduct.EdgeRetry:
		return fmt.Sprintf("it returned %s to the same stretch of the %s%s, which was already clean, the last time at %s",
			words.Count(int(e.Size)), e.Words["beside"], here, words.Clock(e.EndS))
	case conduct.Swerve:
		if e.Unit == "m" {
			s := fmt.Sprintf("it swerved %s to the %s%s and returned to its line", length(e.Size), side(e.more("side_m")), here)
			if g := e.more("gap_m"); !math.IsNaN(g) {
				s += " after " + length(g)
			}
			return s + ", with nothing in its way"
		}
		s := fmt.Sprintf("it turned aside by %s to the %s%s, with nothing in its way", degrees(e.Size), side(e.more("turn_deg")), here)
		if free := e.more("free_m"); !math.IsNaN(free) {
			s += " for the next " + length(free)
		}
		return s
	case conduct.Dock:
		if e.Words["then"] == conduct.RunEnded {
			return "it reached the dock and the run ended"
		}
		return "it reached the dock and stayed for " + lasting
	case conduct.Undock:
		return "it left the dock"
	case conduct.Carried:
		return "a person moved it" + here + ", for " + lasting
	case conduct.Hidden:
		if e.Words["reason"] == conduct.BetweenRecordings {
			return "a recording ended and the next began " + lasting + " later"
		}
		s := "it was hidden" + here + " for " + lasting
		if why := e.Words["reason"]; why != "" {
			s += " (" + why + ")"
		}
		return s
	case conduct.Outside:
		s := "it left the room" + here + " for " + lasting
		if f := e.more("far_m"); !math.IsNaN(f) {
			s += ", by up to " + length(f)
		}
		return s
	}
	return ""
}
