package track

import "math"

// atRobot is how near a person is who is at the robot, m: an arm's length would
// be more, but feet and hands stand beside what they lift. whoBeside is for how
// long before a gap and behind it one counts, s.
const (
	atRobot   = 0.15
	whoBeside = 0.8
)

func personAt(s *linked) bool { return s.Person != nil && s.Person.Gap <= atRobot }

// gapPerson is what is known of a person in a gap.
type gapPerson struct {
	at    bool    // one was seen at the robot
	share float64 // of the gap's looks in which one was
	from  float64 // m/s, of the robot before
	to    float64 // and behind
}

// personInGap looks for a person at the robot in the gap of looks [i, j) and
// beside it.
func personInGap(l []linked, i, j int) (p gapPerson) {
	for k := i - 1; k >= 0 && l[i].T-l[k].T < whoBeside; k-- {
		p.at = p.at || personAt(&l[k])
	}
	for k := j; k < len(l) && l[k].T-l[j-1].T < whoBeside; k++ {
		p.at = p.at || personAt(&l[k])
	}
	n := 0.0
	for k := i; k < j; k++ {
		if personAt(&l[k]) {
			n++
		}
	}
	p.share = n / float64(j-i)
	p.at = p.at || n > 0
	p.from, p.to = moved(l, i-1, -1)/0.5, moved(l, j, 1)/0.5
	return p
}

// A robot drives at drives m/s or more, and comes back from behind somebody who
// walks past no farther away than it would have come at its own pace, give or
// take a share. liftTime is what it takes to bend down, lift a robot and put it
// down, s, and handsOn the share of that time in which the person is seen there.
const (
	drives   = 0.05
	pace     = 1.3
	liftTime = 1.0
	handsOn  = 0.5
)

// moves tells whether the person moved the robot, which came back d m away after
// dt s; r is its radius, m. Somebody who only walks past a robot that drives on
// did not: it drove before and behind, and came as far as it does.
func (p gapPerson) moves(d, dt, r float64) bool {
	if !p.at || d <= r {
		return false
	}
	fastest := math.Max(p.from, p.to)
	if d > pace*fastest*dt+r && fastest > drives {
		return true
	}
	drove := p.from > drives && p.to > drives
	return !drove && dt > liftTime && p.share >= handsOn
}

// takenAway tells whether a person took the robot out of the picture in the last
// gap, of looks [i, j): one was at it where it stood, and then its place was bare.
func takenAway(l []linked, i, j int, job Job) bool {
	if i == 0 || j < len(l) {
		return false
	}
	p := personInGap(l, i, j)
	gone := 0
	for k := i; k < j; k++ {
		if l[k].Gone {
			gone++
		}
	}
	return p.at && p.from < drives && gone*2 > j-i
}

// showsPerson is the time of the look about the gap [i, j) that shows the person
// at the robot best: the largest one that touches it.
func showsPerson(l []linked, i, j int) float64 {
	best, at := -1.0, l[i].T
	for k := i - 1; k >= 0 && l[i].T-l[k].T < whoBeside; k-- {
		i = k
	}
	for ; i < len(l) && l[i].T-l[j-1].T < whoBeside; i++ {
		if personAt(&l[i]) && l[i].Person.Area > best {
			best, at = l[i].Person.Area, l[i].T
		}
	}
	return at
}
