package lab

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/goccy/go-yaml/ast"

	"swathe/cmd/internal/units"
)

// Condition is one thing that may be stated of a run: who, with what, on what,
// in what air and light.
type Condition struct {
	Name      string
	Type      string // text, number, choice or date
	Unit      string // of a number; empty: none
	Low, High float64
	Of        []string // of a choice
}

// Types of a condition.
const (
	typeText   = "text"
	typeNumber = "number"
	typeChoice = "choice"
	typeDate   = "date"
)

// Names of conditions that the program itself reads.
const (
	CondDate     = "date"
	CondOutcome  = "outcome"
	CondFirmware = "firmware"
	CondSample   = "sample"
)

// Outcomes are how a run may end in the tester's word.
var Outcomes = []string{"complete", "assisted", "trapped", "battery empty", "error"}

// standingConditions are those that every lab has beside conditionKeys; a lab
// declares its own in lab.yaml.
var standingConditions = []Condition{
	{Name: CondDate, Type: typeDate},
	{Name: "block", Type: typeText}, // declares partners: runs of one block are compared in pairs
	{Name: "operator", Type: typeText},
	{Name: "floor", Type: typeText},
	{Name: "temperature", Type: typeNumber, Unit: "degC", Low: -20, High: 60},
	{Name: "humidity", Type: typeNumber, Unit: "%", Low: 0, High: 100},
	{Name: "brush_wear", Type: typeText},
	{Name: CondOutcome, Type: typeChoice, Of: Outcomes},
}

// ConditionNames lists every condition that notes may give in this lab.
func (l *Lab) ConditionNames() []string {
	out := slices.Clone(conditionKeys)
	for _, c := range slices.Concat(standingConditions, l.Declared) {
		if !slices.Contains(out, c.Name) {
			out = append(out, c.Name)
		}
	}
	return out
}

// condition returns what is known of a condition; a declared one stands before
// a standing one of its name.
func (l *Lab) condition(name string) Condition {
	for _, c := range slices.Concat(l.Declared, standingConditions) {
		if c.Name == name {
			return c
		}
	}
	return Condition{Name: name, Type: typeText}
}

// ConditionUnit returns the unit of a condition, empty if it has none.
func (l *Lab) ConditionUnit(name string) string { return l.condition(name).Unit }

// ConditionChoices are the values that a condition may have; nil: any of its type.
func (l *Lab) ConditionChoices(name string) []string { return l.condition(name).Of }

// fault tells why a condition cannot have the value v, or "".
func (c Condition) fault(v string) string {
	switch c.Type {
	case typeNumber:
		x, err := strconv.ParseFloat(v, 64)
		switch {
		case err != nil || math.IsNaN(x) || math.IsInf(x, 0):
			return fmt.Sprintf("%s is %q; it should be a number%s, without its unit.", c.Name, v, ofUnit(c.Unit))
		case x < c.Low || x > c.High:
			return fmt.Sprintf("%s is %g; it should be from %g to %g%s.", c.Name, x, c.Low, c.High, unitTail(c.Unit))
		}
	case typeChoice:
		if !slices.Contains(c.Of, v) {
			return fmt.Sprintf("%s is %q; it should be one of %s.", c.Name, v, strings.Join(c.Of, ", "))
		}
	case typeDate:
		if _, _, err := ParseDate(v); err != nil {
			return fmt.Sprintf("%s is %q; write 2026-03-02, or 2026-03-02 14:30.", c.Name, v)
		}
	}
	return ""
}

// ParseDate reads a day, or a day and a time of day; whole tells whether the
// time was given.
func ParseDate(v string) (t time.Time, whole bool, err error) {
	for _, layout := range []string{"2006-01-02 15:04", "2006-01-02T15:04", "2006-01-02 15:04:05", "2006-01-02T15:04:05", time.RFC3339} {
		if t, err := time.Parse(layout, v); err == nil {
			return t, true, nil
		}
	}
	t, err = time.Parse("2006-01-02", v)
	return t, false, err
}

// DeclaredQuantity is a quantity of the lab's own that its bench measures.
type DeclaredQuantity struct {
	Name, Words string
	Unit        units.Unit // the one that tables show
	OfRobot     bool       // else of a run
	Better      int        // +1: more is better, -1: less is, 0: neither
	Low, High   float64    // in Unit
}

// Laboratory is who measured, for reports.
type Laboratory map[string]string

// LaboratoryKeys are what lab.yaml may say of the laboratory.
var LaboratoryKeys = []string{"name", "address", "location", "customer", "method", "authorised_by", "issued", "licence"}

func (r *reader) declarations(l *Lab, top *block) {
	if top.has("laboratory") {
		if b, ok := r.block(top.val("laboratory"), top.key("laboratory"), "laboratory", LaboratoryKeys...); ok {
			l.Laboratory = Laboratory{}
			for _, k := range LaboratoryKeys {
				if b.has(k) {
					l.Laboratory[k], _ = r.text(b.val(k), b.label(k))
				}
			}
		}
	}
	if top.has("conditions") {
		list, _ := r.entries(top.val("conditions"), top.key("conditions"), "conditions", "a block with one key for each condition")
		for _, e := range list {
			if slices.Contains(noteKeys, e.name) && !slices.Contains(conditionKeys, e.name) {
				r.refuse(e.key, "%q is already a key of the notes. Choose another name for the condition.", e.name)
				continue
			}
			if r.name(e, "a condition") {
				l.Declared = append(l.Declared, r.declaredCondition(e))
			}
		}
	}
	if top.has("quantities") {
		list, _ := r.entries(top.val("quantities"), top.key("quantities"), "quantities", "a block with one key for each quantity")
		for _, e := range list {
			if r.name(e, "a quantity") {
				l.Quantities = append(l.Quantities, r.declaredQuantity(e))
			}
		}
	}
}

func (r *reader) declaredCondition(e entry) Condition {
	c := Condition{Name: e.name, Type: typeText, Low: math.Inf(-1), High: math.Inf(1)}
	b, ok := r.block(e.value, e.key, "condition "+e.name, "type", "unit", "range", "of")
	if !ok {
		return c
	}
	types := []string{typeText, typeNumber, typeChoice, typeDate}
	if b.has("type") {
		c.Type, _ = r.text(b.val("type"), b.label("type"))
		if !slices.Contains(types, c.Type) {
			r.refuse(b.val("type"), "%s is %q; it should be one of %s.", b.label("type"), c.Type, strings.Join(types, ", "))
		}
	}
	if b.has("unit") {
		c.Unit, _ = r.text(b.val("unit"), b.label("unit"))
	}
	c.Low, c.High = r.rangeOf(b, c.Low, c.High)
	if b.has("of") {
		list, _ := r.list(b.val("of"), b.label("of"), "a list of words")
		for _, v := range list {
			w, _ := r.text(v, b.label("of"))
			c.Of = append(c.Of, w)
		}
	}
	if c.Type == typeChoice && len(c.Of) < 2 {
		r.refuse(e.key, "%s: a choice needs its words, such as of: [new, used].", b.what)
	}
	return c
}

// rangeOf reads range: [low, high].
func (r *reader) rangeOf(b *block, low, high float64) (float64, float64) {
	if !b.has("range") {
		return low, high
	}
	p, ok := r.point(b.val("range"), b.label("range"), "[low, high]")
	if ok && p.Y <= p.X {
		r.refuse(b.val("range"), "%s: the second number should be greater than the first.", b.label("range"))
	}
	return p.X, p.Y
}

func (r *reader) declaredQuantity(e entry) DeclaredQuantity {
	q := DeclaredQuantity{Name: e.name, Words: e.name, Low: math.Inf(-1), High: math.Inf(1)}
	b, ok := r.block(e.value, e.key, "quantity "+e.name, "words", "unit", "of", "better", "range")
	if !ok {
		return q
	}
	if b.has("words") {
		q.Words, _ = r.text(b.val("words"), b.label("words"))
	}
	if b.need("unit", "Write the unit to show it in, such as g, mm, W or %; 1 for a plain number.") {
		name, _ := r.text(b.val("unit"), b.label("unit"))
		var known bool
		if q.Unit, known = units.Find(name); !known {
			var names []string
			for _, u := range units.Table {
				names = append(names, u.Name)
			}
			r.refuse(b.val("unit"), "%s: there is no unit %q. Known units: %s.", b.what, name, strings.Join(names, ", "))
		}
	}
	word := func(key string, among ...string) string {
		if !b.has(key) {
			return ""
		}
		w, _ := r.text(b.val(key), b.label(key))
		if !slices.Contains(among, w) {
			r.refuse(b.val(key), "%s is %q; it should be %s.", b.label(key), w, strings.Join(among, " or "))
		}
		return w
	}
	q.OfRobot = word("of", "run", "robot") == "robot"
	switch word("better", "more", "less", "neither") {
	case "more":
		q.Better = 1
	case "less":
		q.Better = -1
	}
	q.Low, q.High = r.rangeOf(b, q.Low, q.High)
	return q
}

// DaysFile says what holds for all runs of a day, typed once.
const DaysFile = "days.yaml"

// readDays reads days.yaml: by day, the conditions that its runs inherit.
func (l *Lab) readDays(problems *Problems) {
	data, err := os.ReadFile(filepath.Join(l.Dir, DaysFile))
	if os.IsNotExist(err) {
		return
	} else if err != nil {
		problems.add(Problem{File: DaysFile, Message: fmt.Sprintf("the file can't be read: %v.", err)})
		return
	}
	l.parseDays(data, problems)
}

// Day returns what days.yaml states of a day, such as 2026-03-02.
func (l *Lab) Day(day string) map[string]string { return l.days[day] }

// CheckDays judges the text of days.yaml without taking it over.
func (l *Lab) CheckDays(text []byte) error {
	var problems Problems
	other := *l
	other.parseDays(text, &problems)
	if len(problems.List) > 0 {
		return &problems
	}
	return nil
}

// parseDays takes over what a days.yaml says.
func (l *Lab) parseDays(data []byte, problems *Problems) {
	r, body := parse(DaysFile, data, problems)
	if body == nil {
		return
	}
	l.days = map[string]map[string]string{}
	list, _ := r.entries(body, body, DaysFile, "a block with one key for each day, such as 2026-03-02")
	names := l.ConditionNames()
	for _, e := range list {
		if _, whole, err := ParseDate(e.name); err != nil || whole {
			r.refuse(e.key, "%q is not a day; write it as 2026-03-02.", e.name)
			continue
		}
		if l.days[e.name] != nil {
			r.refuse(e.key, "%s appears twice. Keep one.", e.name)
			continue
		}
		l.days[e.name] = map[string]string{}
		b, ok := r.block(e.value, e.key, "day "+e.name, slices.DeleteFunc(slices.Clone(names), func(n string) bool { return n == CondDate })...)
		if !ok {
			continue
		}
		for _, n := range names {
			if b.has(n) {
				l.days[e.name][n] = r.conditionValue(l, b.val(n), n)
			}
		}
	}
}

// conditionValue reads a condition and refuses a value that it can't have.
func (r *reader) conditionValue(l *Lab, n ast.Node, name string) string {
	v, ok := r.text(n, name)
	if why := l.condition(name).fault(v); ok && why != "" {
		r.refuse(n, "%s", why)
	}
	return v
}

// dated gives a run without a date that of its recording, where it says so, and
// what was typed for the day.
func (l *Lab) dated(file string, conditions map[string]string) {
	if conditions[CondDate] == "" {
		if t, ok := created(file); ok {
			conditions[CondDate] = t.Format("2006-01-02 15:04")
		}
	}
	l.inherit(conditions)
}

// inherit adds to a run's conditions what was typed for its day.
func (l *Lab) inherit(conditions map[string]string) {
	t, _, err := ParseDate(conditions[CondDate])
	if err != nil {
		return
	}
	for k, v := range l.days[t.Format("2006-01-02")] {
		if conditions[k] == "" {
			conditions[k] = v
		}
	}
}
