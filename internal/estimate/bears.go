package estimate

import (
	"math"

	"ductward/internal/air"
	"ductward/internal/verdict"
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
	worst := verdict.Harshest(e.densestAir())
	if len(set.open) == 0 { // whatever the leakage, it cannot be more than this
		return judge.BearsEverywhere(e.viewer.model.LargestRise(worst.Air.Density) * e.fanSeen())
	}
	worst.Setting, worst.FanFactor = set.setting, e.fanSeen()
	res, err := e.viewer.model.Solve(worst)
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
	return math.Max(1, math.Exp(e.cal.globals.factors[globalFan]))
}

func (e *Estimator) densestAir() air.State {
	a, err := verdict.DensestAir(e.site)
	if err != nil {
		return e.standardAir()
	}
	return a
}
