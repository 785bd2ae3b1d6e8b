// Package coverage turns a path and a plan into figures: what the cleaning
// line swept, how often and when, what it could have reached and what it
// missed.
//
// # The model
//
// A Trace is a chain of poses; between two of them position and heading are
// interpolated linearly. The cleaning line is a segment across the heading, so
// between two poses it sweeps a quadrilateral (a turning line a sector, which
// is cut into quadrilaterals whose chords stay within a fiftieth of a cell). The
// floor is a raster of square cells; a cell is swept when its centre is. Cells
// are half-open: a centre on the border of two abutting quadrilaterals belongs
// to exactly one of them, whatever the shapes.
//
// A spot's pass ends once the robot's centre has travelled strictly more than
// one robot radius since the spot was last under the line, travel being
// interpolated at the touch; the next touch is a new pass.
//
// # What is undefined
//
// A figure that could not be measured is NaN, never 0: a share of no floor, a
// time that was never reached, a reachable floor when the robot started where
// it cannot stand. The reason is in Result.Warnings.
//
// # Purity
//
// Nothing here changes its arguments, reads files or keeps state between calls;
// a Measure may run in parallel with others on the same Trace and Plan.
package coverage
