package sight

import "math"

// The turns of a top are decided together, not look by look: of all courses that
// the heading can have taken the one that its pictures bear out best (Viterbi
// 1967, on a circle of turnBins angles). A look whose picture correlates with the
// robot's own by c at some turn is, at that turn, exp(-n/2 log(1 - c^2)) times as
// likely as one that shows anything: that of n independent samples of which a
// line fits all but 1 - c^2 of the variance. Between two looks the rate of
// turning is normal about 0 with sigma turnRate, and no faster than fastestTurn.
// So one blurred look, or the back of a top that looks much like its front,
// cannot turn the robot round: it would have to get there and back.
const (
	turnBins = 128 // 2.8 degrees; within them each look's own correlation decides
	// turnSamples is n. The top has hundreds of pixels, but few features, and what
	// spoils them (blur, compression) spoils neighbours alike.
	turnSamples = 40
	// turnRate is what robots turn on the spot at, rad/s (common practice: 1 to 3).
	turnRate = 1.5
)

// turnWorth is how much likelier, as a logarithm, correlation c makes a turn
// than a picture of anything would.
func turnWorth(c float64) float32 {
	if c <= 0 {
		return 0
	}
	return float32(-turnSamples / 2 * math.Log(1-math.Min(c*c, 0.9999)))
}

// coursing finds the likeliest course look by look.
type coursing struct {
	score, next [turnBins]float32
	from        [][turnBins]int8 // by look, bins to go back
	t           float64
}

// begin forgets what was, for about n looks.
func (c *coursing) begin(n int) {
	if cap(c.from) < n {
		c.from = make([][turnBins]int8, 0, n)
	}
	c.from = c.from[:0]
}

// add takes in the correlations (textureAngles of them) of the look at time t.
func (c *coursing) add(t float64, corr []float64) {
	const per = textureAngles / turnBins
	var back [turnBins]int8
	if n := len(c.from); n > 0 {
		dt := math.Max(t-c.t, 1e-3)
		const bin = 2 * math.Pi / turnBins
		reach := min(turnBins/2-1, int(fastestTurn*dt/bin)+1)
		var cost [turnBins / 2]float32
		for d := range cost[:reach+1] {
			r := float64(d) * bin / (turnRate * dt)
			cost[d] = float32(r * r / 2)
		}
		// Beyond half a turn nothing is known.
		for i := range c.next {
			best, at := c.score[i], 0
			for d := 1; d <= reach; d++ {
				if v := c.score[(i-d+turnBins)%turnBins] - cost[d]; v > best {
					best, at = v, -d
				}
				if v := c.score[(i+d)%turnBins] - cost[d]; v > best {
					best, at = v, d
				}
			}
			c.next[i], back[i] = best, int8(at)
		}
		c.score = c.next
	} else {
		c.score = [turnBins]float32{}
	}
	top := float32(math.Inf(-1))
	for i := range c.score {
		v := math.Inf(-1)
		for k := 0; k < per; k++ {
			v = math.Max(v, corr[i*per+k])
		}
		c.score[i] += turnWorth(v)
		top = max(top, c.score[i])
	}
	for i := range c.score { // or hours of looks lose the digits
		c.score[i] -= top
	}
	c.from, c.t = append(c.from, back), t
}

// course is the likeliest bin of each look.
func (c *coursing) course() []int {
	n := len(c.from)
	if n == 0 {
		return nil
	}
	out := make([]int, n)
	at := 0
	for i, v := range c.score {
		if v > c.score[at] {
			at = i
		}
	}
	for k := n - 1; k >= 0; k-- {
		out[k] = at
		at = (at + int(c.from[k][at]) + turnBins) % turnBins
	}
	return out
}
