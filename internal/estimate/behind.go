package estimate

import (
	"math"
	"slices"

	"ductward/internal/finding"
	"ductward/internal/shop"
)

// Air that enters between filter and fan and a restriction behind the tap leave the same of every pressure. They part at the
// fan's power, which rises with the one and falls with the other.
const (
	powerSure = 3.0  // standard errors of the fan's power above what a restriction lets expect: it moves more air
	powerNone = 1.5  // and below so many it does not
	powerDays = 2    // with the change, at least, for that
	powerBack = 10   // days before the change that it is compared with
	leastDraw = 0.01 // of the log of the power: less is the motor's own
)

// place returns a column's place among those of a change.
func (e *Estimator) place(c *change, col int, p float64) finding.Place {
	out := finding.Place{Part: e.cols.part(col), Probability: p}
	if !e.cols.hasTwin(col) {
		return out
	}
	const twin = "clean-side"
	more, se, days := e.powerSince(c)
	switch {
	case more > max(powerSure*se, leastDraw):
		out.Part = twin
	case days >= powerDays && more < powerNone*se:
	default:
		out.Members = []string{out.Part, twin}
	}
	return out
}

// powerSince returns by how much more power the fan has drawn since a change than is expected with it, as a log against the days
// before, with its standard error and the number of days since; NaN where nobody reads the power.
func (e *Estimator) powerSince(c *change) (more, se float64, days int) {
	ch := slices.IndexFunc(e.cols.sensors, func(s *shop.Sensor) bool { return s.Measures == shop.FanPower })
	if ch < 0 {
		return math.NaN(), math.NaN(), 0
	}
	var sum, n [2]float64
	for _, d := range e.days {
		share, ok := e.shareOn(d, ch)
		if !ok || d.at < c.onset-powerBack {
			continue
		}
		when := 0
		if d.at >= c.onset {
			when = 1
		}
		sum[when] += share
		n[when]++
	}
	if n[0] == 0 || n[1] == 0 {
		return math.NaN(), math.NaN(), 0
	}
	m := &e.cols.meters[ch]
	return sum[1]/n[1] - sum[0]/n[0], math.Hypot(m.day, m.air) * math.Sqrt(1/n[0]+1/n[1]), int(n[1])
}

// shareOn returns the mean log of what a channel read on a day over what is expected with all that is known.
func (e *Estimator) shareOn(d *dayData, ch int) (float64, bool) {
	sum, n := 0.0, 0.0
	for i := range d.obs {
		o := &d.obs[i]
		if o.part >= len(d.filter) {
			continue
		}
		st := &state{logFilter: d.filter[o.part].V, params: e.known(d.at), globals: e.cal.globals}
		v, at, _, err := e.viewer.at(o.set, st, o.air)
		if err != nil {
			continue
		}
		for k, c := range o.have {
			if c == ch && o.value[k] > 0 {
				expect := v.pred[c] * (1 + e.biasOf(o.set.key)[c]) * v.scaled(&e.cols, c, st, at)
				sum += math.Log(o.value[k] / expect)
				n++
			}
		}
	}
	return sum / n, n > 0
}
