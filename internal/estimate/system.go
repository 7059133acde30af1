package estimate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"ductward/internal/steady"
)

// system is a day's normal equations over changes and nuisances.
type system struct {
	e      *Estimator
	n      nuisances
	uses   []int // by use of a machine: which
	normal *mat.SymDense
	rhs    *mat.VecDense
	rows   []linear  // by observation, over [changes | nuisances]
	ref    []float64 // log resistance that the filter columns are about, by part

	strayed    []float64            // by channel: see stray
	seesFilter bool                 // the filter's drop was read on this day
	air        weather              // what was measured of it on this day
	trace      trace                // of the latest change, on this day
	base       *mat.SymDense        // what the error of the baseline's gate-shut readings took from normal; nil: no gate was ever shut
	law        map[string][]float64 // by gate set and channel: what the change does there, times lawOf
}

// assemble builds the normal equations.
func (e *Estimator) assemble(d *dayData, x0, guess, weights []float64) *system {
	n := nuisances{parts: d.parts, channels: len(e.cols.channels), uses: len(d.uses)}
	t, traced := e.traceOn(d.at)
	if traced {
		n.traces = otherDucts + len(t.rivals)
	}
	size := e.cols.changes + n.size()
	s := &system{e: e, n: n, uses: d.uses, normal: mat.NewSymDense(size, nil), rhs: mat.NewVecDense(size, nil),
		ref: append([]float64(nil), guess...), air: weatherOf(d.obs), trace: t, law: map[string][]float64{},
		strayed: make([]float64, n.channels)}
	s.rows = make([]linear, len(d.obs))
	middle := middles(d)
	bySet := map[string][]int{}
	var order []string
	for i := range d.obs {
		key := d.obs[i].set.key
		if bySet[key] == nil {
			order = append(order, key)
		}
		bySet[key] = append(bySet[key], i)
	}
	for _, key := range order {
		g := &group{cross: mat.NewDense(n.channels, size, nil), rhs: make([]float64, n.channels)}
		for _, i := range bySet[key] {
			o := &d.obs[i]
			lin, ok := s.equation(o, x0, guess[o.part], o.at-middle[o.part])
			if !ok {
				continue
			}
			s.rows[i] = lin
			s.seesFilter = s.seesFilter || e.readsFilter(o)
			s.add(g, &lin, weights[i])
		}
		set := d.obs[bySet[key][0]].set
		if set.kind != steady.Closed || !g.any {
			s.release(g, s.setVariance(set))
			continue
		}
		s.releaseBase(g, s.setVariance(set))
	}
	return s
}

// readsFilter tells whether a run has the filter's drop.
func (e *Estimator) readsFilter(o *observation) bool {
	return slices.ContainsFunc(o.have, func(c int) bool { return e.cols.ofFilter[c] })
}

// traces returns, by channel, how otherwise the latest change may show in a run, a column for each other duct and then for each
// rival of its place; nil where nothing has changed.
func (s *system) traces(o *observation, at *state, v *view) ([][]float64, error) {
	if s.n.traces == 0 {
		return nil, nil
	}
	spread, err := s.e.viewer.spread(o.set, at, s.trace.col)
	if err != nil {
		return nil, err
	}
	out := make([][]float64, len(spread))
	law := make([]float64, len(spread))
	for c := range spread {
		for _, x := range spread[c] {
			out[c] = append(out[c], s.trace.size*x)
		}
		law[c] = s.e.cal.lawOf(c) * s.trace.size * v.jac[c][s.trace.col]
	}
	for _, r := range s.trace.rivals {
		x, err := s.e.viewer.trickled(o.set, at, r)
		if err != nil {
			return nil, err
		}
		for c := range x {
			out[c] = append(out[c], s.trace.size*x[c])
		}
	}
	if o.set.kind != steady.Closed { // all zones leak alike there
		s.law[o.set.key] = law
	}
	return out, nil
}

// setVariance is the variance of a gate set's bias, with what the law of the latest change may be off by in it.
func (s *system) setVariance(g *gateSet) []float64 {
	out := slices.Clone(s.e.biasVariance(g))
	for c, x := range s.law[g.key] {
		out[c] += s.trace.days * x * x
	}
	return out
}

// middles returns the middle of each part of the day, in hours since its first run.
func middles(d *dayData) []float64 {
	sum, n := make([]float64, d.parts), make([]float64, d.parts)
	for i := range d.obs {
		sum[d.obs[i].part] += d.obs[i].at
		n[d.obs[i].part]++
	}
	for p := range sum {
		if n[p] > 0 {
			sum[p] /= n[p]
		}
	}
	return sum
}

// equation returns one observation's whitened row over [changes | nuisances], about x0 and the guess.
func (s *system) equation(o *observation, x0 []float64, guess, hours float64) (linear, bool) {
	e, k := s.e, &s.e.cols
	st := &state{logFilter: guess, params: x0, globals: e.cal.globals}
	v, at, atAir, err := e.viewer.at(o.set, st, o.air)
	if err != nil {
		return linear{}, false
	}
	s.stray(v, guess)
	bias := append([]float64(nil), e.biasOf(o.set.key)...)
	for c := range bias {
		bias[c] = (1+bias[c])*v.scaled(k, c, st, at) - 1
	}
	if v, err = e.sinceBaseline(v, o.set, st, o.air); err != nil {
		return linear{}, false
	}
	extra, err := s.traces(o, at, v)
	if err != nil {
		return linear{}, false
	}
	lin, ok := e.equations(o, v, atAir, bias, e.cal.fresh, make([]float64, len(bias)), extra, e.hoodStir)
	if !ok {
		return linear{}, false
	}
	for i, x := range lin.x {
		row := make([]float64, k.changes+s.n.size())
		copy(row, x[:k.changes])
		nu := row[k.changes:]
		nu[o.part] = x[k.filter]
		nu[s.n.slope()] = x[k.filter] * hours
		nu[s.n.density()] = x[k.density]
		nu[s.n.speed()] = x[k.fan]
		for c := range s.n.channels {
			nu[s.n.day(c)] = x[k.gain0+c]
		}
		copy(nu[s.n.trace(0):], x[k.all:])
		if !guessed(o) {
			for j, m := range o.set.machines {
				nu[s.n.use(o.uses[j])] = x[k.block0+m]
			}
		}
		lin.x[i] = row
	}
	return lin, true
}

// stray notes how far the filter has moved each channel since the baseline, as the model has it: a meter whose slope is poorly
// known is off by a share of that, in every run alike.
func (s *system) stray(v *view, logFilter float64) {
	k := &s.e.cols
	for c := range s.strayed {
		moved := math.Abs(v.jac[c][k.filter] * (logFilter - s.e.cal.logFilter))
		s.strayed[c] = max(s.strayed[c], k.meters[c].slope*moved)
	}
}
