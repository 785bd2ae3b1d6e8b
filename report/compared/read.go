package compared

import (
	"fmt"

	"swathe/report"
	"swathe/report/sheet"
	"swathe/report/words"
)

// ComparisonFile is the name of the file that holds a Comparison.
const ComparisonFile = "comparison.json"

// ComparisonSheet reads a comparison back from the content of its
// comparison.json and returns it with its page, without pictures: those lie
// beside it.
func ComparisonSheet(raw []byte, unit words.Unit) (*Comparison, sheet.Sheet, error) {
	var d Comparison
	if err := report.Unmarshal(raw, &d); err != nil {
		return nil, sheet.Sheet{}, fmt.Errorf("%s can't be read (%w); run the comparison again", ComparisonFile, err)
	}
	if d.Schema != report.Schema {
		return nil, sheet.Sheet{}, fmt.Errorf("%s has version %d, not %d; run the comparison again", ComparisonFile, d.Schema, report.Schema)
	}
	return &d, ComparisonInput{Doc: &d, Unit: unit}.sheet(nil), nil
}
