package bound

import (
	"fmt"
	"math"
)

// FilterSD returns the standard error of the filter's log resistance on the last day against the mean of the first ones,
// which are the baseline.
func (rec *Record) FilterSD(baseline int) (float64, error) {
	of := map[int]float64{rec.chain(len(rec.days)-1) + chainFilter: 1}
	for d := range baseline {
		of[rec.chain(d)+chainFilter] -= 1 / float64(baseline)
	}
	v, err := rec.variance(of)
	return math.Sqrt(v), err
}

// AirSD returns the standard error of the log of the air at a place on the last day in one set, where a virtual channel
// measures velocity pressure. What the hood of that use is off by is the air's own and not counted.
//
//	ln Q = ½·(ln VP − ln ρ) + what the place has to do with it
func (rec *Record) AirSD(channel string, set int) (float64, error) {
	r := rec.r
	for c, ch := range r.Channels {
		if ch.Name != channel {
			continue
		}
		s, day := &r.Sets[set], rec.chain(len(rec.days)-1)
		v, err := rec.variance(map[int]float64{
			set*len(r.Channels) + c: 0.5,
			day + chainFilter:       0.5 * s.Filter[c],
			day + chainDensity:      0.5 * (s.Density[c] - 1),
			day + chainSpeed:        0.5 * s.Speed[c],
		})
		return math.Sqrt(v), err
	}
	return 0, fmt.Errorf("no channel %q", channel)
}
