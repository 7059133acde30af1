package estimate

import (
	"cmp"
	"math"
	"slices"

	"ductward/internal/duct"
	"ductward/internal/shop"
	"ductward/internal/steady"
)

// flowError is the relative standard error of a machine's flow by the calibrated model: half a sensor's gain, and what
// the drawing leaves unknown. Absolute flow is never better than the gain.
func (e *Estimator) flowError() float64 {
	own := math.Hypot(gainPrior, e.cal.misfit/2)
	if e.tapUnknown() {
		return math.Hypot(own, unknownTap)
	}
	return own
}

// usage is how often a gate set was used lately.
type usage struct {
	set   *gateSet
	hours float64
}

// usages returns the gate sets of the last ten days with their hours, in the order of their first use.
func (e *Estimator) usages() []usage {
	index := map[string]int{}
	var out []usage
	from := max(0, len(e.days)-10)
	for _, d := range e.days[from:] {
		for i := range d.obs {
			o := &d.obs[i]
			if o.set.kind != steady.Running {
				continue
			}
			k, ok := index[o.set.key]
			if !ok {
				k = len(out)
				index[o.set.key] = k
				out = append(out, usage{set: o.set})
			}
			out[k].hours += (o.run.End - o.run.Start).Hours()
		}
	}
	return out
}

// aloneSet returns the gate set that opens what one machine needs and nothing else, nil if it has no way to the
// collector.
func (e *Estimator) aloneSet(machine string) *gateSet { return e.machineSet([]string{machine}) }

// closedSet returns the gate set with every gate shut.
func (e *Estimator) closedSet() *gateSet {
	g := e.newGateSet(&steady.Run{Kind: steady.Closed, Ports: e.restingPorts(shop.Setting{})})
	return &g
}

// restingPorts returns the selectors' ports of a setting, sorted by name. A hose that is not needed hangs somewhere, behind
// its shut gate.
func (e *Estimator) restingPorts(setting shop.Setting) []steady.Port {
	var out []steady.Port
	for _, s := range e.collector.Selectors {
		port := setting.Port[s.Name]
		if port == 0 && len(e.gatesBehind[s.Name]) > 0 {
			port = 1
		}
		out = append(out, steady.Port{Selector: s.Name, Port: port})
	}
	slices.SortFunc(out, func(a, b steady.Port) int { return cmp.Compare(a.Selector, b.Selector) })
	return out
}

// flowOf returns the flow through the fan in a gate set with a clean filter.
func (e *Estimator) flowOf(set *gateSet) float64 {
	if set.flow == 0 {
		if res, err := e.solveAt(set, 1); err == nil {
			set.flow = res.FanFlow
		}
	}
	return set.flow
}

// widestSet returns the gate set of lately through which most air flows: a tenth of an hour at least.
func (e *Estimator) widestSet() *gateSet {
	var best *gateSet
	top := 0.0
	for _, u := range e.usages() {
		if u.hours < 0.1 {
			continue
		}
		if q := e.flowOf(u.set); q > top {
			best, top = u.set, q
		}
	}
	return best
}

// solveAt solves a gate set in standard air, with what is known to have changed, at a resistance over the shop file's
// clean value.
func (e *Estimator) solveAt(set *gateSet, ratio float64) (*duct.Result, error) {
	s := &state{logFilter: math.Log(ratio), params: e.known(len(e.summary)), globals: e.cal.globals}
	return e.viewer.model.Solve(e.viewer.ductState(set, s, e.standardAir()))
}

// machineFlow returns the flow at a machine, 0 if it has none.
func machineFlow(res *duct.Result, name string) float64 {
	for _, m := range res.Machines {
		if m.Name == name {
			return m.Flow
		}
	}
	return 0
}
