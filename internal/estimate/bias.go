package estimate

import (
	"math"
	"slices"
)

// biasOf returns the bias of a gate set by channel.
func (e *Estimator) biasOf(key string) []float64 {
	if b := e.cal.bias[key]; b != nil {
		return b
	}
	return e.cal.fresh
}

// biasVariance returns the variance of its error. A set that was never seen has what the baseline leaves open of the ducts
// besides: it may hang on drops and wyes of which the sets that were seen told little.
func (e *Estimator) biasVariance(g *gateSet) []float64 {
	if v := e.cal.variance[g.key]; v != nil {
		return v
	}
	if v := e.cal.unseen[g.key]; v != nil {
		return v
	}
	v := slices.Clone(e.cal.freshVar)
	for c, x := range e.viewer.leftOpenOf(g, e.cal) {
		v[c] += x
	}
	if e.cal.unseen == nil || len(e.cal.unseen) >= newSetsKept {
		e.cal.unseen = map[string][]float64{}
	}
	e.cal.unseen[g.key] = v
	return v
}

// newSetsKept is for how many gate sets that is kept.
const newSetsKept = 4 * cacheLimit

// learn takes what a day says about gate sets that the baseline had not seen, or hardly: the rest of the day knows the filter, so
// what is left in the new set is its own ratio. With every gate shut nothing else knows the leakage, and a leak that grows
// slowly would be learnt as that ratio: what the baseline saw of it stands.
func (e *Estimator) learn(d *dayData) {
	x0 := e.known(d.at)
	seen := map[string]bool{}
	for i := range d.obs {
		key := d.obs[i].set.key
		if seen[key] || guessed(&d.obs[i]) || e.cal.shut[key] || e.cal.variance[key] != nil && e.wellKnown(key) {
			continue
		}
		seen[key] = true
		e.learnSet(d, key, x0)
	}
}

// wellKnown tells whether the bias of a gate set is known so well that a change is no longer taken for it.
func (e *Estimator) wellKnown(key string) bool {
	for c, v := range e.cal.variance[key] {
		if v >= e.cal.freshVar[c]/9 {
			return false
		}
	}
	return true
}

// learnSet updates the bias of one gate set by its mean residual of the day.
func (e *Estimator) learnSet(d *dayData, key string, x0 []float64) {
	n := len(e.cols.channels)
	bias := append([]float64(nil), e.biasOf(key)...)
	variance := append([]float64(nil), e.biasVariance(e.sets[key])...)
	sum, count := make([]float64, n), make([]float64, n)
	noise := make([]float64, n)
	middle := middles(d)
	for i := range d.obs {
		o := &d.obs[i]
		if o.set.key != key || guessed(o) {
			continue
		}
		// The filter as it stood then, and the day's fan and air: a set that is seen in the morning alone would else learn how
		// fast the filter loads, and one that is new on a hot day how thin the air was.
		loaded := d.filter[o.part].V + d.slope.V*(o.at-middle[o.part])
		st := &state{logFilter: loaded, params: x0, globals: e.cal.globals}
		v, at, atAir, err := e.viewer.at(o.set, st, o.air)
		if err != nil {
			return
		}
		for j, c := range o.have {
			row := v.jac[c]
			expect := v.pred[c] * v.scaled(&e.cols, c, st, at) *
				(1 + row[e.cols.density]*(math.Log(o.air.Density/atAir.Density)+d.density.V) + row[e.cols.fan]*d.speed.V +
					row[e.cols.filter]*math.Log(o.air.Viscosity/atAir.Viscosity))
			sum[c] += o.value[j]/expect - 1
			count[c]++
			hood := 0.0
			for k, m := range o.set.machines {
				hood += math.Pow(row[e.cols.block0+m], 2) *
					(math.Pow(e.hoods.sd(m), 2)/o.shares[k] + math.Pow(e.hoodDays.sd(m), 2) + math.Pow(e.chipsOf(m), 2))
			}
			f, rho := row[e.cols.filter]*d.filter[o.part].SE, row[e.cols.density]*d.density.SE
			noise[c] = hood + math.Pow(o.se[j]/expect, 2) + f*f + rho*rho + e.cols.meters[c].lasting()
		}
	}
	for c := range n {
		if count[c] == 0 {
			continue
		}
		r := noise[c]/count[c] + e.cols.meters[c].lasting()
		gain := variance[c] / (variance[c] + r)
		bias[c] += gain * (sum[c]/count[c] - bias[c])
		variance[c] *= 1 - gain
	}
	e.cal.bias[key], e.cal.variance[key] = bias, variance
}
