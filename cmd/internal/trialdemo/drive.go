// Package trialdemo makes up a laboratory: rooms, robots of invented names that
// drive by simple rules, bench readings, a plan. Everything is drawn from one
// seed; nothing in it was ever measured.
package trialdemo

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
)

// rect is an axis-parallel rectangle on the floor, m.
type rect struct{ x0, y0, x1, y1 float64 }

// room is a made-up layout: a rectangle with furniture along its right wall, so
// that a robot always finds home along the left one.
type room struct {
	name      string
	w, h      float64
	furniture map[string]rect
	objects   map[string]rect // test objects
	dockY     float64
}

// nature is how a made-up robot drives.
type nature struct {
	radius  float64
	speed   float64 // m/s
	lane    float64 // m between lanes; 0: it drives at random
	drift   float64 // mm between where a lane is and where it should be, standard deviation
	seconds float64 // of a robot that drives at random
	careful bool    // it keeps clear of test objects
	learns  float64 // how much faster it is once it knows the room, a share
}

// hz is the rate of the path recordings.
const hz = 5

// drive is one run as it comes about.
type drive struct {
	room   room
	is     nature
	rng    *rand.Rand
	x, y   float64
	th     float64 // rad
	t      float64
	rows   strings.Builder
	margin float64
}

// free tells whether the robot's centre may be at (x, y).
func (d *drive) free(x, y float64) bool {
	r := d.is.radius + 0.005
	if x < r || y < r || x > d.room.w-r || y > d.room.h-r {
		return false
	}
	for _, f := range d.room.furniture {
		if d.near(x, y, f, r) {
			return false
		}
	}
	if d.is.careful {
		for _, o := range d.room.objects {
			if d.near(x, y, o, r+d.margin) {
				return false
			}
		}
	}
	return true
}

func (d *drive) near(x, y float64, f rect, by float64) bool {
	dx := math.Max(math.Max(f.x0-x, x-f.x1), 0)
	dy := math.Max(math.Max(f.y0-y, y-f.y1), 0)
	return math.Hypot(dx, dy) < by
}

// tick writes where the robot is, with half a millimetre of noise, and lets time pass.
func (d *drive) tick() {
	fmt.Fprintf(&d.rows, "%.2f,%.4f,%.4f,%.2f\n", d.t, d.x+0.0006*d.rng.NormFloat64(), d.y+0.0006*d.rng.NormFloat64(), d.th*180/math.Pi+0.2*d.rng.NormFloat64())
	d.t += 1. / hz
}

func (d *drive) stand(seconds float64) {
	for n := int(seconds * hz); n > 0; n-- {
		d.tick()
	}
}

// turnTo turns on the spot at 120 degrees a second, the short way.
func (d *drive) turnTo(th float64) {
	for {
		left := math.Remainder(th-d.th, 2*math.Pi)
		const most = 120. / hz * math.Pi / 180
		if math.Abs(left) <= most {
			d.th = math.Atan2(math.Sin(th), math.Cos(th))
			d.tick()
			return
		}
		d.th += math.Copysign(most, left)
		d.tick()
	}
}

// ahead drives straight for at most dist; false if something stopped it.
func (d *drive) ahead(dist, speed float64) bool {
	for dist > 1e-6 {
		step := math.Min(speed/hz, dist)
		x, y := d.x+step*math.Cos(d.th), d.y+step*math.Sin(d.th)
		if !d.free(x, y) {
			return false
		}
		d.x, d.y, dist = x, y, dist-step
		d.tick()
	}
	return true
}

// lanes goes up the room in lanes along x, then home.
func (d *drive) lanes(speed, stopAfter float64) {
	r := d.is.radius + 0.01
	right := true
	for y := r; ; y += d.is.lane {
		last := y >= d.room.h-r
		if !d.climb(math.Min(y, d.room.h-r)+d.is.drift/1000*d.rng.NormFloat64(), speed) {
			break
		}
		d.along(right, speed)
		right = !right
		if stopAfter > 0 && d.t > stopAfter {
			d.stand(70)
			return
		}
		if last {
			break
		}
	}
	d.home(speed)
}

// climb goes to the height y; furniture in the way is passed on its left.
func (d *drive) climb(y, speed float64) bool {
	y = math.Max(d.is.radius+0.006, math.Min(y, d.room.h-d.is.radius-0.006))
	for range 60 {
		d.turnTo(math.Copysign(math.Pi/2, y-d.y))
		if d.ahead(math.Abs(y-d.y), speed) {
			return true
		}
		d.turnTo(math.Pi)
		if !d.ahead(0.1, speed) {
			d.turnTo(0)
			d.ahead(0.4, speed)
		}
	}
	return false
}

// along drives a lane to its end; a test object in the way is passed above.
func (d *drive) along(right bool, speed float64) {
	th := math.Pi
	if right {
		th = 0
	}
	lane := d.y
	for range 8 {
		d.turnTo(th)
		if d.ahead(20, speed); !d.atObject(th) {
			return
		}
		d.turnTo(math.Pi / 2)
		for range 14 {
			if !d.ahead(0.06, speed) || d.free(d.x+0.1*math.Cos(th), d.y) {
				break
			}
		}
		d.turnTo(th)
		for range 30 {
			if !d.ahead(0.06, speed) || d.free(d.x, lane) {
				break
			}
		}
		d.turnTo(-math.Pi / 2)
		d.ahead(d.y-lane, speed)
	}
}

// atObject tells whether a test object, not a wall, is what stops the robot.
func (d *drive) atObject(th float64) bool {
	x := d.x + 0.1*math.Cos(th)
	for _, o := range d.room.objects {
		if d.is.careful && d.near(x, d.y, o, d.is.radius+0.005+d.margin) {
			return true
		}
	}
	return false
}

// bounce drives straight until something is in the way, turns by chance, and
// goes on until its time is up, then home. recharge, s: when it goes home for a
// charge and on; 0: never.
func (d *drive) bounce(seconds, speed, stopAfter, recharge float64) {
	for d.t < seconds {
		if recharge > 0 && d.t > recharge {
			before := d.t
			d.home(speed)
			d.stand(110)
			recharge, seconds = 0, seconds+d.t-before
		}
		d.turnTo(d.th + math.Pi*(0.5+d.rng.Float64()))
		d.ahead(20, speed)
		if stopAfter > 0 && d.t > stopAfter {
			d.stand(70)
			return
		}
	}
	d.home(speed)
}

// home follows the left wall to the dock; test objects in the way are passed
// above or below.
func (d *drive) home(speed float64) {
	wall := d.is.radius + 0.03
	for tries := 0; d.x > wall+0.02 && tries < 80; tries++ {
		d.turnTo(math.Pi)
		if !d.ahead(d.x-wall, speed) {
			d.turnTo(math.Pi / 2 * float64(1-2*(tries/8%2)))
			if !d.ahead(0.1, speed) { // close beside an object: away from it first
				d.turnTo(0)
				d.ahead(0.1, speed)
			}
		}
	}
	d.turnTo(math.Copysign(math.Pi/2, d.room.dockY-d.y))
	d.ahead(math.Abs(d.room.dockY-d.y), speed)
	d.turnTo(0)
	d.stand(12)
}

// plans are what happens in a run beside the ordinary.
type plans struct {
	stopAfter float64 // s: the robot stays where it is then for good; 0: it comes home
	recharge  float64 // s: when it goes to the dock for a charge and on; 0: never
}

// run returns a path recording as CSV, and how long the robot drove, s.
func run(r room, is nature, phase string, seed1, seed2 uint64, p plans) (path string, seconds float64) {
	d := &drive{room: r, is: is, rng: rand.New(rand.NewPCG(seed1, seed2)), y: r.dockY, margin: 0.03}
	d.x = is.radius + 0.03
	d.rows.WriteString("t_s,x_m,y_m,heading_deg\n")
	d.stand(3)
	speed := is.speed * (1 + 0.02*d.rng.NormFloat64())
	if phase == "mapped" {
		speed *= 1 + is.learns
	}
	if is.lane > 0 {
		d.lanes(speed, p.stopAfter)
	} else {
		d.bounce(is.seconds*(1+0.05*d.rng.NormFloat64()), speed, p.stopAfter, p.recharge)
	}
	return d.rows.String(), d.t
}
