package plan

import (
	"fmt"
	"slices"
	"strings"

	"swathe/cmd/internal/lab"
	"swathe/report/sheet"
	"swathe/report/words"
)

// Sheet is the page for the wall: by block, the runs in their order, the name
// that each recording is to get, and boxes to fill in.
func (d *Report) Sheet() sheet.Sheet {
	s := sheet.Sheet{Title: "Trial plan", Lead: d.lead(), Details: "Work down the list. The order within a block is random, drawn from seed " + fmt.Sprint(d.Seed) + "; keep to it. Name each recording as listed, then tick it off."}
	head := []string{"no.", "name of the recording", "made", "time"}
	blank := slices.DeleteFunc(slices.Clone(d.Required), func(c string) bool { return c == "date" })
	head = append(head, blank...)
	head = append(head, "how it ended")
	for i := 0; i < len(d.Entries); {
		block := d.Entries[i].Block
		t := sheet.Table{Name: block, Head: head}
		for ; i < len(d.Entries) && d.Entries[i].Block == block; i++ {
			e := d.Entries[i]
			box := "\u2610"
			if e.State == Done || e.State == Deviating || e.State == Recorded {
				box = "\u2611"
			}
			row := []string{fmt.Sprint(e.Number), strings.TrimPrefix(e.File, "recordings/"), box, clock(e.Conditions[lab.CondDate])}
			for _, c := range blank {
				row = append(row, orLine(e.Conditions[c]))
			}
			t.Rows = append(t.Rows, append(row, orLine(e.Conditions[lab.CondOutcome])))
		}
		s.Sections = append(s.Sections, sheet.Section{Heading: block, Tables: []sheet.Table{t}})
	}
	s.Sections = append(s.Sections, sheet.Section{Heading: "Before you begin", List: []string{
		"Stop: " + d.Stop + ".",
		"Primary figure: " + d.Figure + ".",
		"Note for every run: " + words.List(append([]string{"date and time"}, blank...)) + ". Write what holds for a whole day once, in days.yaml.",
		"Keep a run that failed or was disturbed: note how it ended, and repeat it under the next trial number.",
		"Follow the makers' instructions for chargers and batteries; never charge a damaged battery.",
	}})
	return s
}

func (d *Report) lead() string {
	done := d.Count[Done] + d.Count[Deviating]
	return fmt.Sprintf("%d of %d runs recorded", done+d.Count[Recorded]+d.Count[Failed], len(d.Entries))
}

// Text lists what stands out and what comes next.
func (d *Report) Text(say func(format string, a ...any)) {
	var parts []string
	for _, st := range States {
		if n := d.Count[st]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, st))
		}
	}
	say("%d runs planned: %s. The order was drawn from seed %d.", len(d.Entries), strings.Join(parts, ", "), d.Seed)
	say("Primary figure: %s. Stop: %s.", d.Figure, d.Stop)
	for _, e := range d.Entries {
		if len(e.Why) > 0 {
			say("%s: %s: %s", e.Run, e.State, strings.Join(e.Why, "; "))
		}
	}
	const next = 5
	n := 0
	for _, e := range d.Entries {
		if e.State != Due {
			continue
		}
		if n == 0 {
			say("Next, in this order:")
		}
		if n++; n > next {
			say("  and %d more", d.Count[Due]-next)
			break
		}
		say("  %d  %s", e.Number, e.File)
	}
	if len(d.Unplanned) > 0 {
		say("Not in the plan: %s", words.List(d.Unplanned))
	}
}

// clock is the day and time of a run, a line to write on where it is not stated.
func clock(date string) string {
	return orLine(strings.ReplaceAll(strings.ReplaceAll(date, "T", " "), " ", words.NB))
}

// orLine is a line to write on in an empty box.
func orLine(v string) string {
	if v == "" {
		return strings.Repeat(".", 14)
	}
	return v
}
