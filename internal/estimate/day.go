package estimate

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"ductward/internal/detect"
)

// Priors of what may change, as standard deviations; also the weak belief about it after a change has been found.
const (
	leakPrior  = 100.0 / 3600 // m³/s at the reference suction
	blockPrior = 0.30         // of the log of a drop's loss
	fanPrior   = 0.03         // of the log of the fan's speed
	scalePrior = 0.05         // of a sensor's scale
	// blockDrift is how far a drop's loss wanders by itself: hoses are moved, hoods are set.
	blockDrift = 0.02
)

// dayData is one day of runs, with what it says.
type dayData struct {
	label string
	obs   []observation
	rough []roughRun // in place of obs where there is no drawing
	parts int        // stretches between cleanings, at least 1

	info       detect.Information // on the changes, nuisances integrated out
	filter     []Value            // log resistance over the shop file's, by part, at the middle of the part
	slope      Value              // of the log resistance, per hour of fan
	speed      Value              // log speed beyond what is known to have changed
	innovation float64
	misfit     float64 // sum of squares behind it
	freedom    float64 // and its degrees of freedom
	fanHours   float64
	closed     int
	at         int // index in the record
}

// nuisance columns of a day: filter by part, slope, density, speed, day error by channel.
type nuisances struct{ parts, channels int }

func (n nuisances) slope() int    { return n.parts }
func (n nuisances) density() int  { return n.parts + 1 }
func (n nuisances) speed() int    { return n.parts + 2 }
func (n nuisances) day(c int) int { return n.parts + 3 + c }
func (n nuisances) size() int     { return n.parts + 3 + n.channels }

// fitDay turns a day's runs into information about the changes, linearised at x0, what is known to have changed by that
// day. The log resistance near which the day lies is guess.
func (e *Estimator) fitDay(d *dayData, x0 []float64, from float64) bool {
	weights := make([]float64, len(d.obs))
	guess := make([]float64, d.parts)
	for i := range guess {
		guess[i] = from
	}
	for i := range weights {
		weights[i] = 1
	}
	for pass := range 3 {
		sys := e.assemble(d, x0, guess, weights)
		x, _ := sys.solve(e.changePriors())
		if x == nil || !sys.settle(d) {
			return false
		}
		if pass == 2 {
			return sys.eliminate(e, d, x0)
		}
		// a run that fits neither the day nor any one change is given less weight
		d.innovation = sys.residuals(d, x, weights)
		for i := range guess { // the first guess may have been a cleaning away
			guess[i] += x.AtVec(e.cols.changes + i)
		}
	}
	return false
}

// system is a day's normal equations over changes and nuisances.
type system struct {
	e      *Estimator
	n      nuisances
	normal *mat.SymDense
	rhs    *mat.VecDense
	rows   []linear  // by observation, over [changes | nuisances]
	ref    []float64 // log resistance that the filter columns are about, by part
}

// assemble builds the normal equations.
func (e *Estimator) assemble(d *dayData, x0, guess, weights []float64) *system {
	n := nuisances{parts: d.parts, channels: len(e.cols.channels)}
	size := e.cols.changes + n.size()
	s := &system{e: e, n: n, normal: mat.NewSymDense(size, nil), rhs: mat.NewVecDense(size, nil),
		ref: append([]float64(nil), guess...)}
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
		group := newGroup(size)
		for _, i := range bySet[key] {
			o := &d.obs[i]
			lin, ok := s.equation(o, x0, guess[o.part], o.at-middle[o.part])
			if !ok {
				continue
			}
			s.rows[i] = lin
			group.add(&lin, weights[i])
		}
		group.release(s, e.biasVariance(key))
		group.into(s)
	}
	return s
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
	bias := append([]float64(nil), e.biasOf(o.set.key)...)
	for c := range bias {
		// a view knows no sensor's scale: what is known to have changed of it is taken here
		bias[c] = (1+bias[c])*(1+v.jac[c][k.filter]*(guess-at.logFilter))*(1+x0[k.gain0+c]) - 1
	}
	lin, ok := e.equations(o, v, atAir, bias, e.cal.fresh, make([]float64, len(bias)))
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
		lin.x[i] = row
	}
	return lin, true
}

// group is the normal equations of the runs of one gate set.
type group struct {
	normal *mat.SymDense
	rhs    *mat.VecDense
	any    bool
}

func newGroup(n int) *group {
	return &group{normal: mat.NewSymDense(n, nil), rhs: mat.NewVecDense(n, nil)}
}

func (g *group) add(l *linear, weight float64) {
	g.any = true
	for i, y := range l.y {
		x := mat.NewVecDense(len(l.x[i]), l.x[i])
		g.normal.SymRankOne(g.normal, weight, x)
		g.rhs.AddScaledVec(g.rhs, weight*y, x)
	}
}

// release integrates out the error of the gate set's bias, which all its runs share: its columns are those of the
// sensors' scales.
func (g *group) release(s *system, variance []float64) {
	if !g.any {
		return
	}
	n, c0 := s.n.channels, s.e.cols.gain0
	small := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			small.SetSym(i, j, g.normal.At(c0+i, c0+j))
		}
		small.SetSym(i, i, small.At(i, i)+1/math.Max(variance[i], 1e-12))
	}
	var chol mat.Cholesky
	if !chol.Factorize(small) {
		return
	}
	size := g.rhs.Len()
	cross := mat.NewDense(n, size, nil)
	r := mat.NewVecDense(n, nil)
	for i := range n {
		for j := range size {
			cross.Set(i, j, g.normal.At(c0+i, j))
		}
		r.SetVec(i, g.rhs.AtVec(c0+i))
	}
	var sol mat.Dense
	var solR mat.VecDense
	_ = chol.SolveTo(&sol, cross) // small is positive definite with a floor: only its condition can be poor
	_ = chol.SolveVecTo(&solR, r)
	var down mat.Dense
	down.Mul(cross.T(), &sol)
	for i := range size {
		for j := i; j < size; j++ {
			g.normal.SetSym(i, j, g.normal.At(i, j)-(down.At(i, j)+down.At(j, i))/2)
		}
	}
	var downR mat.VecDense
	downR.MulVec(cross.T(), &solR)
	g.rhs.SubVec(g.rhs, &downR)
}

func (g *group) into(s *system) {
	s.normal.AddSym(s.normal, g.normal)
	s.rhs.AddVec(s.rhs, g.rhs)
}

// nuisancePriors returns the prior standard deviations of a day's nuisances.
func (s *system) nuisancePriors() []float64 {
	sd := make([]float64, s.n.size())
	for p := range s.n.parts {
		sd[p] = 0.5
	}
	sd[s.n.slope()] = 0.01 // per hour: a filter that doubles in a hundred hours
	sd[s.n.density()] = s.e.densityError()
	sd[s.n.speed()] = 0.001 * dayCorrelation
	for c := range s.n.channels {
		sd[s.n.day(c)] = dayErrorLong
	}
	return sd
}

// eliminate integrates the nuisances out and leaves the information about the changes, as absolute values.
func (s *system) eliminate(e *Estimator, d *dayData, x0 []float64) bool {
	p, m := e.cols.changes, s.n.size()
	nn := mat.NewSymDense(m, nil)
	cross := mat.NewDense(m, p, nil)
	rn := mat.NewVecDense(m, nil)
	sd := s.nuisancePriors()
	for i := range m {
		for j := i; j < m; j++ {
			nn.SetSym(i, j, s.normal.At(p+i, p+j))
		}
		nn.SetSym(i, i, nn.At(i, i)+1/(sd[i]*sd[i]))
		for j := range p {
			cross.Set(i, j, s.normal.At(p+i, j))
		}
		rn.SetVec(i, s.rhs.AtVec(p+i))
	}
	var chol mat.Cholesky
	if !chol.Factorize(nn) {
		return false
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
	d.info = info
	return true
}

// solve returns all unknowns, changes about x0 and nuisances, with priors of the given standard deviations on the
// changes, and the factor of their information.
func (s *system) solve(changes []float64) (*mat.VecDense, *mat.Cholesky) {
	size := s.rhs.Len()
	a := mat.NewSymDense(size, nil)
	a.CopySym(s.normal)
	for i, sd := range append(append([]float64(nil), changes...), s.nuisancePriors()...) {
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

// changePriors returns the prior standard deviations of the changes.
func (e *Estimator) changePriors() []float64 {
	sd := make([]float64, e.cols.changes)
	for j := range sd {
		switch {
		case e.cols.isLeak(j):
			sd[j] = leakPrior
		case j < e.cols.fan:
			sd[j] = blockPrior
		case j == e.cols.fan:
			sd[j] = fanPrior
		default:
			sd[j] = scalePrior
		}
	}
	return sd
}

// residuals judges each run by its distance from the fit, sets its weight, and returns the mean square distance per
// degree of freedom.
func (s *system) residuals(d *dayData, x *mat.VecDense, weights []float64) float64 {
	own, taken := s.ownBias(d, x)
	var sum, dof float64
	for i, l := range s.rows {
		if len(l.y) == 0 {
			continue
		}
		chi := 0.0
		for r, y := range l.y {
			f := y - s.predict(l.x[r], x, own[d.obs[i].set.key])
			chi += f * f
		}
		n := float64(len(l.y))
		weights[i] = 1
		if chi > 6*n {
			weights[i] = 6 * n / chi
		}
		sum += min(chi, 6*n)
		dof += n
	}
	dof -= float64(s.n.parts+2) + taken
	d.misfit, d.freedom = sum, dof
	if dof < 3 {
		return math.NaN()
	}
	return sum / dof
}

// predict returns what one whitened row should read, with a gate set's own bias b, nil for none.
func (s *system) predict(row []float64, x *mat.VecDense, b []float64) float64 {
	f := 0.0
	for j, v := range row {
		f += v * x.AtVec(j)
	}
	for c, v := range b {
		f += v * row[s.e.cols.gain0+c]
	}
	return f
}

// ownBias returns the error of each gate set's bias that is most likely, given all else, and how many degrees of freedom
// these errors take.
func (s *system) ownBias(d *dayData, x *mat.VecDense) (bias map[string][]float64, taken float64) {
	n := s.n.channels
	out := map[string][]float64{}
	normal, rhs := map[string]*mat.SymDense{}, map[string]*mat.VecDense{}
	for i, l := range s.rows {
		key := d.obs[i].set.key
		if normal[key] == nil {
			normal[key], rhs[key] = mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
			for c, v := range s.e.biasVariance(key) {
				normal[key].SetSym(c, c, 1/math.Max(v, 1e-12))
			}
		}
		for r, y := range l.y {
			g := mat.NewVecDense(n, l.x[r][s.e.cols.gain0:s.e.cols.gain0+n])
			normal[key].SymRankOne(normal[key], 1, g)
			rhs[key].AddScaledVec(rhs[key], y-s.predict(l.x[r], x, nil), g)
		}
	}
	for _, key := range sortedKeys(normal) {
		var chol mat.Cholesky
		var b mat.VecDense
		var inv mat.SymDense
		if !chol.Factorize(normal[key]) {
			continue
		}
		_ = chol.SolveVecTo(&b, rhs[key]) // positive definite by its priors
		_ = chol.InverseTo(&inv)
		out[key] = b.RawVector().Data
		for c, v := range s.e.biasVariance(key) {
			taken += 1 - inv.At(c, c)/math.Max(v, 1e-12)
		}
	}
	return out, taken
}

// settlePriors returns how far the changes may lie from what is known of them while the filter and the fan of the day
// are read off: a leak that began this morning is not yet known, and must not pass for a change of the filter.
func (e *Estimator) settlePriors() []float64 {
	sd := e.changePriors()
	zones := math.Sqrt(float64(max(len(e.cols.zones), 1)))
	for j := range sd {
		switch {
		case e.cols.isLeak(j):
			sd[j] /= 2 * zones // together they may leak half as much as one may when a change is looked for
		case j < e.cols.fan:
			sd[j] = blockDrift
		default:
			sd[j] = dayError // the day's own errors stand beside it
		}
	}
	return sd
}

// settle reads the filter's resistance, its slope and the fan's speed off the day, all else integrated out.
func (s *system) settle(d *dayData) bool {
	p := s.e.cols.changes
	x, chol := s.solve(s.e.settlePriors())
	if x == nil {
		return false
	}
	var inv mat.SymDense
	_ = chol.InverseTo(&inv) // positive definite by its priors
	value := func(i int) Value { return Value{V: x.AtVec(p + i), SE: math.Sqrt(inv.At(p+i, p+i))} }
	d.filter = d.filter[:0]
	for i := range s.n.parts {
		f := value(i)
		f.V += s.ref[i]
		d.filter = append(d.filter, f)
	}
	d.slope = value(s.n.slope())
	d.speed = value(s.n.speed())
	return true
}
