// Package report turns values into the files of a result folder and reads them
// back: run.json, trace.csv, curve.csv, events.csv, missed.geojson, story.md, setup.yaml
// and the pictures (by package figure).
//
// Names of fields carry their unit. A share runs from 0 to 1. Times are seconds
// from the first frame of the recording, except where a field says that it
// counts from the run's start. What could not be measured, or was not sought,
// is null in JSON and empty in CSV, never 0. Files keep more digits than the
// measurement deserves, so that arithmetic on them does no harm; what people
// read goes through package words.
//
// Results of coverage, coverage/conduct and coverage/compare are written as they are, by the
// tags of their fields and the rules of json.go. Types of their own have: Rows, whose
// angles are degrees here; TestObject, whose unknown outcome is null; Event, whose figures
// stand beside its fields; and tables of comparisons, with names in the place of indices.
package report
