package main

import (
	"strings"

	"github.com/spf13/pflag"

	"swathe/coverage/compare"
	"swathe/report/words"
)

// sideOptions are the options of the verbs that set runs side by side. They
// declare them on fs; what is returned reads them once they are parsed.
func sideOptions(fs *pflag.FlagSet) func() (compare.Options, words.Unit, error) {
	pool := fs.StringSlice("pool", nil, "pool runs that differ in `WHAT[,WHAT...]`: "+strings.Join(compare.Poolable, ", "))
	primary := fs.String("primary", compare.Primary, "primary `FIGURE` of the comparison, as named in figures.csv; all others are exploratory")
	unit := fs.String("unit", "m", "`UNIT` of lengths: m or ft")
	return func() (opt compare.Options, u words.Unit, err error) {
		opt, u = compare.DefaultOptions(), words.Unit(*unit)
		opt.Pool, opt.Primary = *pool, *primary
		if err := opt.Validate(); err != nil {
			return opt, u, usage("%v", err)
		}
		if !u.Valid() {
			return opt, u, usage("--unit is %q; it should be m or ft", *unit)
		}
		return opt, u, nil
	}
}
