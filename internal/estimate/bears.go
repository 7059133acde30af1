package estimate

import (
	"math"

	"ductward/internal/air"
	"ductward/internal/duct"
	"ductward/internal/verdict"
)

// What a set of gates is judged with before it is proposed is the worst that may be, since a duct that collapses does so
// once: ducts tighter, runs rougher and a filter cleaner than they are drawn, in the densest air that a shop works in. Own
// choices; the filter is a new one before its cake.
const (
	leastLeakage = 0.2 // of the leakage as designed
	mostLosses   = 1.2 // on the losses of all runs
	cleanest     = 0.5 // on the resistance of the clean filter
)

// bears tells whether a set of gates may be proposed: every run is known to be rated for the suction that it would see,
// each by its own rating or the collector's. Where a rating is missing, only what the shop has run already is proposed.
func (e *Estimator) bears(set *gateSet) bool {
	seen := e.sets[set.key] != nil
	if e.viewer == nil {
		return seen
	}
	judge := verdict.For(e.collector)
	if !judge.Rated() {
		return seen
	}
	air := e.densestAir()
	if len(set.open) == 0 { // whatever the leakage, it cannot be more than this
		return judge.BearsEverywhere(e.viewer.model.LargestRise(air.Density) * e.fanSeen())
	}
	res, err := e.viewer.model.Solve(duct.State{
		Setting: set.setting, Air: air, FilterRatio: cleanest,
		LeakFactor: leastLeakage, LossFactor: mostLosses, FanFactor: e.fanSeen(),
	})
	if err != nil {
		return false
	}
	for _, r := range judge.Runs(res) {
		if !r.Bears() {
			return false
		}
	}
	return true
}

// rated tells whether the ducts' ratings are all known.
func (e *Estimator) rated() bool {
	return e.collector.Network != nil && verdict.For(e.collector).Rated()
}

// fanSeen is the factor on the fan's pressure that the baseline found, if that makes it stronger than its curve.
func (e *Estimator) fanSeen() float64 {
	if e.cal == nil {
		return 1
	}
	return math.Max(1, math.Exp(e.cal.globals[globalFan]))
}

func (e *Estimator) densestAir() air.State {
	a, err := verdict.DensestAir(e.site)
	if err != nil {
		return e.standardAir()
	}
	return a
}
