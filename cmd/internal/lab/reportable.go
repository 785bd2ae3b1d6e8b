package lab

import (
	"fmt"
	"strings"
)

// reportNeeds is what a laboratory's test report must hold by ISO/IEC 17025,
// clause 7.8.2, as far as a lab folder can say it; value from memory, and no
// conformity is claimed. Each names where it is written.
var reportNeeds = []struct{ what, key string }{
	{"name of the laboratory", "name"},
	{"its address", "address"},
	{"where the tests were made, if not at that address", "location"},
	{"name and contact of the customer, or own account", "customer"},
	{"the method", "method"},
	{"who authorises the report", "authorised_by"},
	{"the date of issue", "issued"},
}

// MissingForReport lists what stands against calling a report final: what
// lab.yaml lacks, and which conditions some of the runs do not state.
func (l *Lab) MissingForReport(runs map[string]map[string]string) []string {
	var out []string
	for _, n := range reportNeeds {
		if l.Laboratory[n.key] == "" {
			out = append(out, fmt.Sprintf("%s: write laboratory: {%s: ...} in %s", n.what, n.key, SetupFile))
		}
	}
	for _, c := range []string{CondDate, "operator", CondSample, CondFirmware} {
		var lack []string
		for _, id := range sortedKeys(runs) {
			if runs[id][c] == "" {
				lack = append(lack, id)
			}
		}
		if n := len(lack); n > 0 {
			if n > 3 {
				lack = append(lack[:3], fmt.Sprintf("and %d more", n-3))
			}
			out = append(out, fmt.Sprintf("%s of %s: write it in their notes, or for a whole day in %s", c, strings.Join(lack, ", "), DaysFile))
		}
	}
	return out
}
