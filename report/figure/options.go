package figure

import (
	"fmt"
	"math"

	"swathe/report/language"
	"swathe/report/words"
)

// Theme is a set of colours for page, text and lines. The colours of the cells
// and of time are the same in all of them, so that pictures can be compared.
type Theme string

// The themes.
const (
	Light Theme = "light" // for a screen, white page
	Dark  Theme = "dark"  // for a screen, near-black page
	Print Theme = "print" // white page, black text and lines, stronger hatching
)

// Labels says how much is written on a picture.
type Labels string

// The amounts of writing.
const (
	None  Labels = "none"  // the drawing alone
	Short Labels = "short" // title, headline figures, legend
	Full  Labels = "full"  // the names of things and how it was measured as well
)

// Options are the looks of a picture.
type Options struct {
	Width, Height int                 // pixels
	DPI           int                 // pixels per inch: the size in print, and the smallest letter
	Theme         Theme               //
	Labels        Labels              //
	Unit          words.Unit          // of lengths and areas in the words
	Language      *language.Catalogue // of the words; nil: English
	Transparent   bool                // no page colour behind the drawing
	TurnDeg       float64             // turns the plan counter-clockwise, to match the footage
	Slices        int                 // of Path: 0 or 1 draws the whole run, n draws n equal spans of time
	Mark          string              // a reservation that the picture bears however little is written on it; empty: none
	MPerPx        float64             // metres a pixel, to draw several runs at one scale; 0: as large as fits
}

// DefaultOptions are a light picture of 1600 x 1200 pixels that is 8 x 6 inches
// in print, with names and figures in metric units.
func DefaultOptions() Options {
	return Options{Width: 1600, Height: 1200, DPI: 200, Theme: Light, Labels: Full, Unit: words.Metre}
}

// The bounds of a picture's size. Below the lower one no text can be read; the
// upper one is 100 million pixels, 400 MB of memory.
const (
	minSide   = 160
	maxPixels = 100e6
	maxSlices = 12
)

// Validate returns what is wrong with the options, in a sentence.
func (o Options) Validate() error {
	switch {
	case o.Width < minSide || o.Height < minSide:
		return fmt.Errorf("a picture of %d x %d pixels is too small to read: give at least %d x %d", o.Width, o.Height, minSide, minSide)
	case float64(o.Width)*float64(o.Height) > maxPixels:
		return fmt.Errorf("a picture of %d x %d pixels is too large: give at most 100 million pixels", o.Width, o.Height)
	case o.DPI < 30 || o.DPI > 2400:
		return fmt.Errorf("invalid resolution: %d dots per inch; give 30 to 2400", o.DPI)
	case o.Theme != Light && o.Theme != Dark && o.Theme != Print:
		return fmt.Errorf("theme %q is not known: give light, dark or print", o.Theme)
	case o.Labels != None && o.Labels != Short && o.Labels != Full:
		return fmt.Errorf("labels %q is not known: give none, short or full", o.Labels)
	case !o.Unit.Valid():
		return fmt.Errorf("unit %q is not known: give m or ft", o.Unit)
	case math.IsNaN(o.TurnDeg) || math.IsInf(o.TurnDeg, 0):
		return fmt.Errorf("the plan cannot be turned by %v degrees: give a number", o.TurnDeg)
	case o.Slices < 0 || o.Slices > maxSlices:
		return fmt.Errorf("%d slices of time: give 1 to %d", o.Slices, maxSlices)
	case math.IsNaN(o.MPerPx) || o.MPerPx < 0:
		return fmt.Errorf("invalid scale: %v metres a pixel; give a positive number, or 0 for as large as fits", o.MPerPx)
	}
	return nil
}
