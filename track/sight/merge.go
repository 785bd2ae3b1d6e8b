package sight

import (
	"math"

	"swathe/geom"
)

// doubtful is the share of the usual match below which the top's picture says
// that a fit sits beside the robot: an outline of shadow and trim looks right,
// but the top unwrapped about its centre does not.
const doubtful = 0.6

// unlike is the share of the usual match below which the top's picture does not bear an
// outline's heading out.
const unlike = 0.85

// A robot that is flat at one end looks much the same a quarter turn on, and its
// outline may be taken hold of the wrong way round; the picture of its top tells.
const (
	mistaken    = 0.3  // rad, by which the two must differ for that
	outlineSlip = 0.03 // rad, by which the top's picture may be turned throughout where it happened often
	unbacked    = 0.3  // rad, standard uncertainty of an outline's heading that the top does not bear out
	wrongWay    = 0.01 // m, of the place of an outline the wrong way round
)

// Merge puts turns of the top into the sightings of the same moments, and
// marks those at which the top should have matched and did not.
func Merge(s []Sighting, turns []Turn) {
	if len(turns) == 0 {
		return
	}
	var all []float64
	for _, t := range turns {
		all = append(all, t.Match)
	}
	usual := median(all)
	k := 0
	for i := range s {
		for k < len(turns) && turns[k].T < s[i].T {
			k++
		}
		told := k < len(turns) && turns[k].T == s[i].T
		if told && s[i].Found && !s[i].Revised {
			s[i].Beside, s[i].BesideVar = turns[k].Beside, turns[k].BesideVar
		}
		switch {
		case !s[i].Found:
		case s[i].Revised: // its top was read about another place
		case s[i].Source == "outline" && !told:
			s[i].TurnSigma = unbacked
		case s[i].Source == "outline":
			mergeOutline(&s[i], turns[k], usual)
		case told:
			t := turns[k]
			s[i].Doubt = t.Match < doubtful*usual && s[i].Visible > 0.97
			if t.Match > goodMatch && s[i].Source == "" {
				s[i].Source, s[i].Turn, s[i].TurnSigma, s[i].Match = "texture", t.Angle, t.Sigma, t.Match
			}
		}
	}
}

// mergeOutline holds a sighting whose outline gave the heading against the turn
// of its top. There are turns of such robots only where the top is sure.
func mergeOutline(s *Sighting, t Turn, usual float64) {
	s.Match = t.Held
	switch {
	case t.Held > unlike*usual:
	case t.Match > unlike*usual && math.Abs(geom.WrapAngle(t.Angle-s.Turn)) > mistaken:
		s.Turn, s.TurnSigma, s.Match = t.Angle, math.Hypot(t.Sigma, outlineSlip), t.Match
		s.Cov[0] += wrongWay * wrongWay
		s.Cov[2] += wrongWay * wrongWay
	default:
		s.TurnSigma = unbacked
		s.Doubt = t.Held < doubtful*usual && s.Visible > 0.97
	}
}
