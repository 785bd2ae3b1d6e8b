package doubt

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"math/rand"

	"swathe/geom"
)

// Cause is an input that is the same in several runs (a robot's size and
// tools, the survey of a room, a camera), with what each draw of it alone changes. Two runs
// with the same Input and Key had it drawn alike: Change of one run at k belongs
// to Change of the other at k. Causes with another Key are independent.
type Cause struct {
	Input  string               // one of the Input constants
	Key    string               // the same where the cause is
	Change map[string][]float64 // by figure, one a draw: possible truth less published; NaN or infinite where there is none. Of two lengths the shorter counts
}

// causeOf turns the first n draws of one input, those that are all different,
// into what they change.
func causeOf(input, key string, parts []columns, n int) Cause {
	c := Cause{Input: input, Key: key, Change: map[string][]float64{}}
	for _, p := range parts {
		for k, name := range p.names {
			change := make([]float64, n)
			for i := range change {
				change[i] = p.v[i][k] - p.pub[k]
			}
			c.Change[name] = change
		}
	}
	return c
}

// keysOf names the causes that other runs may share, by input. A second
// specimen of a robot has a brush of its own, a room surveyed anew other errors.
func keysOf(in Input) map[string]string {
	plan := []any{geom.RingCorners(in.Plan.Room)}
	for _, pieces := range [][]geom.Piece{in.Plan.Obstacles, in.Plan.Overhead} {
		for _, p := range pieces {
			plan = append(plan, geom.RingCorners(p.Outline))
		}
	}
	body := in.Robot
	body.Marker = nil // a pointer, and nothing that is drawn
	robot := keyOf(body, in.Sample)
	out := map[string]string{
		InputTool: robot, InputRobot: robot,
		InputOutlines: keyOf(plan...),
	}
	if in.Camera != nil {
		out[InputCamera] = keyOf(*in.Camera.Camera)
	}
	return out
}

func keyOf(what ...any) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%v", what))
	return hex.EncodeToString(sum[:6])
}

// source returns the random numbers of draw i of an input. They depend on the
// seed, the input, its key and i alone, so that neither the number of workers
// nor what else is drawn changes them.
func (d *drawer) source(input string, i int) *rand.Rand {
	sum := sha256.Sum256(fmt.Appendf(nil, "%d %s %s %d", d.opt.Seed, input, d.keys[input], i))
	return rand.New(rand.NewSource(int64(binary.LittleEndian.Uint64(sum[:]))))
}
