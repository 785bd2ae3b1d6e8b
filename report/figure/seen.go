package figure

import (
	"fmt"
	"math"

	"swathe/coverage"
	"swathe/geom"
	"swathe/report/words"
)

// Classes of a cell in the picture of what a camera sees.
const (
	sightNone   uint8 = iota // not open floor
	sightInView              // seen
	sightUnder               // beneath an overhead piece: the robot is expected there and bridged
	sightUnseen              // behind something, or outside the picture
)

// Seen draws which open floor of a plan a camera sees.
func Seen(plan *geom.Plan, camera string, v *geom.View, opt Options) (*Picture, error) {
	if plan == nil || len(plan.Room) < 4 || v == nil || len(v.Cells) != v.Cols*v.Rows {
		return nil, fmt.Errorf("the floor that a camera sees can't be drawn without the room's plan and a view of it")
	}
	g := &coverage.Grid{X0: v.Origin.X, Y0: v.Origin.Y, Cell: v.Cell, Nx: v.Cols, Ny: v.Rows}
	class := make([]uint8, len(v.Cells))
	for k, s := range v.Cells {
		switch s {
		case geom.InView:
			class[k] = sightInView
		case geom.Under:
			class[k] = sightUnder
		case geom.Behind, geom.OutOfFrame:
			class[k] = sightUnseen
		}
	}
	seen := v.OpenM2 - v.UnseenM2 - v.UnderM2
	headline := "Camera " + camera + " sees " + words.Share(seen/v.OpenM2, math.NaN()) + " of the open floor"
	area := func(m2 float64, u words.Unit) string { return words.Area(m2, math.NaN(), u) }
	details := area(v.UnseenM2, opt.Unit) + " it cannot see, " + area(v.UnderM2, opt.Unit) + " lies under furniture"
	alt := fmt.Sprintf("Plan of the room %s with the floor that camera %s sees. %s; %s.", plan.Name, camera, headline, details)
	return newPicture("seen", alt, opt, func(s *sheet) {
		legend := []entry{
			swatch("seen", neutralColour),
			pattern("hidden under furniture", s.hatch()),
			s.toldSwatch("not seen", missedColour),
		}
		w, b := s.planSheet(planPart{corners(plan.Room)}, plan.Name, headline, details, "", append(legend, s.planLegend(plan)...))
		s.cellMap(w, b, g, class, func(c uint8) tone {
			switch c {
			case sightInView:
				return plain(neutralColour)
			case sightUnder:
				return s.hatch()
			case sightUnseen:
				return s.missed()
			}
			return tone{}
		})
		s.furniture(w, plan)
	})
}
