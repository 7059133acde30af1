package estimate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"ductward/internal/detect"
	"ductward/internal/steady"
)

// system is a day's normal equations over changes and nuisances.
type system struct {
	e      *Estimator
	n      nuisances
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
	n := nuisances{parts: d.parts, channels: len(e.cols.channels)}
	t, traced := e.traceOn(d.at)
	if traced {
		n.traces = otherDucts + len(t.rivals)
	}
	size := e.cols.changes + n.size()
	s := &system{e: e, n: n, normal: mat.NewSymDense(size, nil), rhs: mat.NewVecDense(size, nil),
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
	extra, err := s.traces(o, at, v)
	if err != nil {
		return linear{}, false
	}
	lin, ok := e.equations(o, v, atAir, bias, e.cal.fresh, make([]float64, len(bias)), extra)
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

// group is what the runs of one gate set say of the error of that set's bias, which all of them share: its columns are
// those of the sensors' scales.
type group struct {
	cross *mat.Dense // channels × unknowns
	rhs   []float64  // by channel
	any   bool
}

// add puts one observation's rows into the day's normal equations.
func (s *system) add(g *group, l *linear, weight float64) {
	g.any = true
	c0 := s.e.cols.gain0
	for i, y := range l.y {
		x := mat.NewVecDense(len(l.x[i]), l.x[i])
		s.normal.SymRankOne(s.normal, weight, x)
		s.rhs.AddScaledVec(s.rhs, weight*y, x)
		for c := range g.rhs {
			k := weight * l.x[i][c0+c]
			floats.AddScaled(g.cross.RawRowView(c), k, l.x[i])
			g.rhs[c] += k * y
		}
	}
}

// release integrates out the error of a gate set's bias.
func (s *system) release(g *group, variance []float64) {
	if !g.any {
		return
	}
	n, c0 := s.n.channels, s.e.cols.gain0
	small := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			small.SetSym(i, j, g.cross.At(i, c0+j))
		}
		small.SetSym(i, i, small.At(i, i)+1/math.Max(variance[i], 1e-12))
	}
	var chol mat.Cholesky
	if !chol.Factorize(small) {
		return
	}
	var low mat.TriDense
	chol.LTo(&low)
	for i := range n { // what L⁻¹ makes of cross and rhs is taken off as squares
		row := g.cross.RawRowView(i)
		for k := range i {
			floats.AddScaled(row, -low.At(i, k), g.cross.RawRowView(k))
			g.rhs[i] -= low.At(i, k) * g.rhs[k]
		}
		floats.Scale(1/low.At(i, i), row)
		g.rhs[i] /= low.At(i, i)
		x := mat.NewVecDense(len(row), row)
		s.normal.SymRankOne(s.normal, -1, x)
		s.rhs.AddScaledVec(s.rhs, -g.rhs[i], x)
	}
}

// releaseBase is release for the gate set with every gate shut, and notes what it took.
func (s *system) releaseBase(g *group, variance []float64) {
	size := s.normal.SymmetricDim()
	taken, left := mat.NewSymDense(size, nil), mat.NewSymDense(size, nil)
	taken.CopySym(s.normal)
	s.release(g, variance)
	left.ScaleSym(-1, s.normal)
	taken.AddSym(taken, left)
	if s.base != nil { // as where several sets of ports shut every gate
		taken.AddSym(taken, s.base)
	}
	s.base = taken
}

// eliminate integrates the nuisances out and leaves the information about the changes, as absolute values, for a day
// among many and, if it is one of the last few, for such a day.
func (s *system) eliminate(d *dayData, x0 []float64) bool {
	var ok bool
	if d.info, ok = s.reduce(x0, 0); !ok {
		return false
	}
	d.own = s.ownVariance(x0)
	if d.late = [lateDays]detect.Information{}; s.e.isOld(d) {
		return true
	}
	for n := range d.late {
		if d.late[n], ok = s.reduce(x0, n+1); !ok {
			return false
		}
	}
	return true
}

// reduce integrates the nuisances of a day out, which is one of the last n.
func (s *system) reduce(x0 []float64, n int) (detect.Information, bool) {
	p := s.e.cols.changes
	sd := append(s.nuisancePriors(n), s.e.hoodDays.all()...)
	m := len(sd)
	column := func(i int) int { // of a nuisance
		if i < s.n.size() {
			return p + i
		}
		return s.e.cols.block0 + i - s.n.size() // how a hood stands today shows as a loss of its drop would
	}
	nn := mat.NewSymDense(m, nil)
	cross := mat.NewDense(m, p, nil)
	rn := mat.NewVecDense(m, nil)
	for i := range m {
		for j := i; j < m; j++ {
			nn.SetSym(i, j, s.normal.At(column(i), column(j)))
		}
		nn.SetSym(i, i, nn.At(i, i)+1/(sd[i]*sd[i]))
		for j := range p {
			cross.Set(i, j, s.normal.At(column(i), j))
		}
		rn.SetVec(i, s.rhs.AtVec(column(i)))
	}
	var chol mat.Cholesky
	if !chol.Factorize(nn) {
		return detect.Information{}, false
	}
	var sol mat.Dense
	var solR mat.VecDense
	_ = chol.SolveTo(&sol, cross) // the priors keep nn positive definite: only its condition can be poor
	_ = chol.SolveVecTo(&solR, rn)
	var down mat.Dense
	down.Mul(cross.T(), &sol)
	info := detect.NewInformation(p)
	for i := range p {
		for j := i; j < p; j++ {
			info.Lambda.SetSym(i, j, s.normal.At(i, j)-(down.At(i, j)+down.At(j, i))/2)
		}
		info.Eta.SetVec(i, s.rhs.AtVec(i))
	}
	var downR, base mat.VecDense
	downR.MulVec(cross.T(), &solR)
	info.Eta.SubVec(info.Eta, &downR)
	base.MulVec(info.Lambda, mat.NewVecDense(p, x0))
	info.Eta.AddVec(info.Eta, &base)
	return info, true
}

// solve returns all unknowns, changes about x0 and nuisances, with priors of the given standard deviations on the
// changes, and the factor of their information. The change of a drop's loss is that on this day, with how its hood stands
// today in it.
func (s *system) solve(changes []float64) (*mat.VecDense, *mat.Cholesky) {
	size := s.rhs.Len()
	a := mat.NewSymDense(size, nil)
	a.CopySym(s.normal)
	priors := append(append([]float64(nil), changes...), s.nuisancePriors(0)...)
	for m, sd := range s.e.hoodDays.all() {
		priors[s.e.cols.block0+m] = math.Hypot(priors[s.e.cols.block0+m], sd)
	}
	for i, sd := range priors {
		a.SetSym(i, i, a.At(i, i)+1/(sd*sd))
	}
	var chol mat.Cholesky
	if !chol.Factorize(a) {
		return nil, nil
	}
	x := mat.NewVecDense(size, nil)
	_ = chol.SolveVecTo(x, s.rhs) // positive definite by its priors
	return x, &chol
}
