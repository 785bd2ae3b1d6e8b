package residue

import (
	"path/filepath"

	"swathe/cmd/internal/bench"
	"swathe/cmd/internal/lab"
	"swathe/coverage/stats"
)

// Readings are the shares left as readings of the bench, of the run that the
// pictures belong to; none without a run.
func (o *Outcome) Readings(j Job) (out []bench.Reading) {
	if o.of == nil {
		return nil
	}
	r := o.of
	key := bench.Key{Robot: r.Robot, Sample: r.Conditions[lab.CondSample], Firmware: r.Conditions[lab.CondFirmware], Layout: r.Layout, Phase: r.Phase, Trial: r.Trial}
	for _, name := range o.Names {
		p := o.Patches[name]
		if p.LeftShare == nil {
			continue
		}
		iv := stats.NoInterval
		if at, ok := p.Interval95["left_share"]; ok {
			iv = stats.Interval{Lo: at[0], Hi: at[1]}
		}
		x := bench.LeftReading(key, p.Kind, name, *p.LeftShare, iv, "from pictures: "+filepath.Base(j.Before)+", "+filepath.Base(j.After))
		x.Date, x.Operator = r.Conditions[lab.CondDate], r.Conditions["operator"]
		out = append(out, x)
	}
	return out
}
