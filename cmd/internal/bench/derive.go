package bench

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"swathe/cmd/internal/units"
	"swathe/coverage/stats"
	"swathe/geom"
	"swathe/report/words"
)

// Value is a figure of one trial of a robot, read or worked out.
type Value struct {
	Key      // Pass is 0
	SI       float64
	U        float64        // standard uncertainty; NaN: not known
	Interval stats.Interval // 95 %; of a fit alone
	Reason   string         // why there is no SI; then it is NaN
	Of       Quantity
}

// Values returns the figures of every trial: those read, summed over passes
// where they were read pass by pass, and those that follow from them. A figure
// that should follow and cannot has a reason.
func Values(qs []Quantity, rs []Reading) []Value {
	byTrial := map[Key][]Reading{}
	var order []Key
	for _, x := range rs {
		k := x.trial()
		if byTrial[k] == nil {
			order = append(order, k)
		}
		byTrial[k] = append(byTrial[k], x)
	}
	var out []Value
	for _, k := range order {
		out = append(out, ofTrial(qs, k, byTrial[k])...)
	}
	return out
}

func ofTrial(qs []Quantity, k Key, rs []Reading) []Value {
	have := map[string]Value{}
	var out []Value
	put := func(name string, v Value) {
		v.Key, v.Quantity = k, name
		v.Of, _ = find(qs, name)
		have[name] = v
		out = append(out, v)
	}
	for _, qu := range qs {
		if qu.Follows != "" {
			continue
		}
		if v, u, ok := summed(rs, qu); ok {
			put(qu.Name, Value{SI: v, U: u})
		}
	}
	share := func(name, part, whole string) {
		p, okP := have[part]
		w, okW := have[whole]
		switch {
		case okP && okW:
			s := p.SI / w.SI
			// First-order propagation (JCGM 100:2008, 5.1.2); the two weighings are
			// taken as independent.
			put(name, Value{SI: s, U: math.Hypot(p.U, s*w.U) / w.SI})
		case okP:
			put(name, Value{SI: math.NaN(), U: math.NaN(), Reason: "what was laid out (" + whole + ") is missing for this trial"})
		}
	}
	share("pickup_share", "mass_picked_up", "mass_laid_out")
	share("hair_pickup_share", "hair_picked_up", "hair_laid_out")
	share("hair_wrapped_share", "hair_wrapped", "hair_laid_out")
	if f, ok := have["air_flow"]; ok {
		if h, ok := have["suction"]; ok {
			p, _ := units.Product(f.SI, units.Flow, h.SI, units.Pressure, units.Power) // the kinds are right by the table
			put("air_power", Value{SI: p, U: math.Hypot(f.U*h.SI, h.U*f.SI)})
		}
	}
	if steps := perPass(rs, "mass_picked_up"); len(steps) > 0 {
		laid, ok := have["mass_laid_out"]
		if !ok {
			return out
		}
		for i := range steps {
			steps[i] /= laid.SI
		}
		limit, per, why := FitPasses(steps)
		limit.Reason, per.Reason = why, why
		put("pickup_limit", limit)
		put("pickup_per_pass", per)
	}
	return out
}

// summed returns a quantity of a trial: the reading of all passes together, or
// the sum of the passes. U is NaN if any of it has no uncertainty.
func summed(rs []Reading, qu Quantity) (v, u float64, ok bool) {
	u2 := 0.0
	for _, x := range rs {
		if x.Quantity != qu.Name {
			continue
		}
		a, w := x.SI()
		if x.Pass == 0 {
			return a, w, true
		}
		v, u2, ok = v+a, u2+w*w, true
	}
	return v, math.Sqrt(u2), ok
}

// perPass returns a quantity pass by pass, as far as the passes follow each
// other from the first.
func perPass(rs []Reading, name string) []float64 {
	var out []float64
	for n := 1; ; n++ {
		i := slices.IndexFunc(rs, func(x Reading) bool { return x.Quantity == name && x.Pass == n })
		if i < 0 {
			return out
		}
		v, _ := rs[i].SI()
		out = append(out, v)
	}
}

// MinPasses is the least number of passes from which a limit is worked out: two
// numbers are fitted.
const MinPasses = 3

// FitPasses fits A p (1-p)^(n-1) to the share that pass n picked up: each pass
// picks up the same share p of what can be picked up at all and is still there,
// and A is that. It is fitted to what each pass brought, whose weighings are
// independent, not to the running sum. The intervals are 95 %, from the scatter
// about the fit (linearised, Student's t with two degrees fewer than passes);
// why tells why there is none.
func FitPasses(share []float64) (limit, per Value, why string) {
	none := Value{SI: math.NaN(), U: math.NaN(), Interval: stats.NoInterval}
	n := len(share)
	if n < MinPasses {
		return none, none, fmt.Sprintf("%d passes were weighed one by one; at least %d are needed", n, MinPasses)
	}
	// Given p, the best A follows at once; what is left depends on p alone.
	basis := func(p float64, k int) float64 { return p * math.Pow(1-p, float64(k)) }
	best := func(p float64) (a, left float64) {
		var xy, xx float64
		for k, y := range share {
			b := basis(p, k)
			xy, xx = xy+b*y, xx+b*b
		}
		a = xy / xx
		for k, y := range share {
			d := y - a*basis(p, k)
			left += d * d
		}
		return a, left
	}
	// The sum may have more than one dip where passes scatter, so p is searched on
	// a grid, then on finer ones about the best.
	p, step, least := 0.5, 0.005, math.Inf(1)
	for x := step; x < 1; x += step {
		if _, left := best(x); left < least {
			p, least = x, left
		}
	}
	for ; step > 1e-10; step /= 5 {
		for x := p - step; x <= p+step; x += step / 5 {
			if _, left := best(x); x > 0 && x < 1 && left < least {
				p, least = x, left
			}
		}
	}
	a, left := best(p)
	if p < 0.01 || a > 2 {
		return none, none, "the passes do not level off, so the limit cannot be estimated"
	}
	// Covariance from the Jacobian in (A, p).
	var aa, ap, pp float64
	for k := range share {
		da := basis(p, k)
		dp := a * (math.Pow(1-p, float64(k)) - float64(k)*p*math.Pow(1-p, float64(k-1)))
		aa, ap, pp = aa+da*da, ap+da*dp, pp+dp*dp
	}
	inv, ok := geom.Inverse2([3]float64{aa, ap, pp})
	if !ok {
		return none, none, "the passes do not separate the limit from the share per pass"
	}
	s2 := left / float64(n-2)
	t := stats.TQuantile(0.975, float64(n-2))
	with := func(v, variance float64) Value {
		u := math.Sqrt(variance)
		return Value{SI: v, U: u, Interval: stats.Interval{Lo: v - t*u, Hi: v + t*u}}
	}
	return with(a, s2*inv[0]), with(p, s2*inv[2]), ""
}

// Mean is the mean of values of a quantity over trials.
type Mean struct {
	N        int
	SI       float64
	SD       float64        // NaN of one value, and of levels
	Interval stats.Interval // 95 %, none of fewer than three
}

// MeanOf averages values; levels of sound by their energies, L = 10 lg of the
// mean of 10^(L/10) (common practice). u is the standard uncertainty of one
// reading (NaN or 0: not known): trials are weighed on one balance and metered
// by one meter, so that more of them do not reduce it, and it is added to the
// scatter in squares.
func MeanOf(k units.Kind, v []float64, u float64) Mean {
	common := stats.Part{U: u, DF: math.Inf(1)}
	if k != units.Level {
		e := stats.Mean(v, common, 0.95)
		m, sd := stats.MeanSD(v)
		if k == units.Share && len(v) >= 3 && m > 0 && m < 1 {
			e.Interval = stats.ShareInterval(m, e.SE, e.DF, 0.95) // as of the floor: within 0 and 1
		}
		return Mean{len(v), m, sd, e.Interval}
	}
	e := make([]float64, len(v))
	for i, l := range v {
		e[i] = math.Pow(10, l/10)
	}
	m, _ := stats.MeanSD(e)
	common.U = m * math.Ln10 / 10 * u
	out := Mean{N: len(v), SI: 10 * math.Log10(m), SD: math.NaN(), Interval: stats.NoInterval}
	if iv := stats.Mean(e, common, 0.95).Interval; iv.Known() {
		out.Interval = stats.Interval{Lo: 10 * math.Log10(math.Max(iv.Lo, 0)), Hi: 10 * math.Log10(iv.Hi)}
	}
	return out
}

// Words writes a value with its unit, no more digits than its uncertainty
// supports, or why there is none.
func (v Value) Words() string {
	if v.Reason != "" {
		return words.NotMeasured + ": " + v.Reason
	}
	return InWords(v.Of, v.SI, v.U)
}

// InWords writes a value in SI, with standard uncertainty u, in the unit of its
// quantity.
func InWords(of Quantity, si, u float64) string {
	un := of.Unit
	if math.IsNaN(si) {
		return words.NotMeasured
	}
	if un.Kind == units.Share {
		return words.Share(si, u)
	}
	x := un.FromSI(si)
	fallback := 2
	switch a := math.Abs(x); {
	case a >= 100:
		fallback = 0
	case a >= 10:
		fallback = 1
	}
	return words.Number(x, u/un.Factor, fallback) + words.NB + unitWords(un.Name)
}

// unitWords writes a unit for readers.
func unitWords(name string) string {
	switch name {
	case "degC":
		return "\u00b0C"
	case "degF":
		return "\u00b0F"
	case "m2", "cm2", "mm2", "ft2", "in2":
		return name[:len(name)-1] + "\u00b2"
	case "m3", "ft3", "in3":
		return name[:len(name)-1] + "\u00b3"
	case "W h", "A h", "mA h", "kW h":
		return strings.ReplaceAll(name, " ", words.NB)
	}
	return name
}
