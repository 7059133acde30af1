package estimate

import (
	"slices"

	"ductward/internal/steady"
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
	for c, x := range e.leakageError(g, e.cal.tightness) {
		v[c] += x
	}
	if e.cal.unseen == nil || len(e.cal.unseen) >= newSetsKept {
		e.cal.unseen = map[string][]float64{}
	}
	e.cal.unseen[g.key] = v
	return v
}

// leakageError returns, by channel, the relative variance of what a set with every gate shut reads by how tight the ducts were when
// the baseline was made, of which the log has the variance given: all its air is leakage, and a baseline without such a set hardly tells
// how much. Nil for any other set, where it is a small share of the air.
func (e *Estimator) leakageError(g *gateSet, tightness float64) []float64 {
	if g.kind != steady.Closed {
		return nil
	}
	v, _, _, err := e.viewer.at(g, &state{logFilter: e.cal.logFilter, globals: e.cal.globals}, e.standardAir())
	if err != nil {
		return nil // its runs are left out too
	}
	out := make([]float64, len(v.globals))
	for c, by := range v.globals {
		out[c] = by[leakGlobal] * by[leakGlobal] * tightness
	}
	return out
}

// newSetsKept is for how many gate sets that is kept.
const newSetsKept = 4 * cacheLimit

// wellKnown tells whether the bias of a gate set is known so well at a channel that a change is no longer taken for it.
func (e *Estimator) wellKnown(key string, c int) bool {
	v := e.cal.variance[key]
	return v != nil && v[c] < e.cal.freshVar[c]/9
}
