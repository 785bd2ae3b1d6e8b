package scene

import "math"

// Rand is a small generator (splitmix64, Steele, Lea and Flood 2014, "Fast
// splittable pseudorandom number generators") whose sequence is fixed by its
// seed on every machine and in every Go version.
type Rand struct{ s uint64 }

// NewRand starts a sequence; each stream of a seed has its own.
func NewRand(seed, stream uint64) *Rand { return &Rand{mix64(seed*0x9E3779B97F4A7C15 + stream)} }

func mix64(z uint64) uint64 {
	z ^= z >> 30
	z *= 0xBF58476D1CE4E5B9
	z ^= z >> 27
	z *= 0x94D049BB133111EB
	return z ^ z>>31
}

// Next returns 64 bits.
func (r *Rand) Next() uint64 {
	r.s += 0x9E3779B97F4A7C15
	return mix64(r.s)
}

// Float returns a number in [0, 1).
func (r *Rand) Float() float64 { return float64(r.Next()>>11) / (1 << 53) }

// gauss returns a standard normal number (Box and Muller 1958).
func (r *Rand) gauss() float64 {
	u := 1 - r.Float()
	return math.Sqrt(-2*math.Log(u)) * math.Cos(2*math.Pi*r.Float())
}

// hash2 returns a number in [0, 1) that depends on two whole numbers and a seed.
func hash2(i, j int, seed uint64) float64 {
	h := mix64(uint64(int64(i))*0x9E3779B97F4A7C15 ^ mix64(uint64(int64(j))+seed*0xD6E8FEB86659FD93))
	return float64(h>>11) / (1 << 53)
}

// field is smooth noise about 0, within -0.5..0.5, with a grain of about 1.
func field(x, y float64, seed uint64) float64 {
	fx, fy := math.Floor(x), math.Floor(y)
	i, j := int(fx), int(fy)
	u, v := x-fx, y-fy
	u, v = u*u*(3-2*u), v*v*(3-2*v)
	a, b := hash2(i, j, seed), hash2(i+1, j, seed)
	c, d := hash2(i, j+1, seed), hash2(i+1, j+1, seed)
	return a + (b-a)*u + (c+(d-c)*u-a-(b-a)*u)*v - 0.5
}

func smoothstep(lo, hi, x float64) float64 {
	if hi <= lo {
		if x < lo {
			return 0
		}
		return 1
	}
	t := (x - lo) / (hi - lo)
	if t <= 0 {
		return 0
	}
	if t >= 1 {
		return 1
	}
	return t * t * (3 - 2*t)
}

func clamp(x, lo, hi float64) float64 { return max(lo, min(hi, x)) }

// hypot is the plain square root of a sum: lengths here neither overflow nor
// vanish, and math.Hypot's care costs more than the rest of a ray.
func hypot(x, y float64) float64 { return math.Sqrt(x*x + y*y) }
