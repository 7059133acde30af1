package estimate

import (
	"math"
	"sort"
	"time"

	"gonum.org/v1/gonum/mat"
)

// What a baseline needs.
const (
	baselineDays    = 5 // working days
	baselineRuns    = 40
	baselineDayRuns = 4                             // a day with fewer is kept, but does not count
	iterations      = 6                             // Gauss–Newton; the fit moves by less than its error after four
	dayError        = 0.003                         // of each sensor from day to day (common practice, no source)
	dayErrorLong    = dayError * 1.7320508075688772 // √spanFactor(0, errorCorrelation)
)

// Priors of the calibration, as standard deviations of logs.
var globalPrior = [3]float64{0.20, 0.80, 0.05}

const (
	gainPrior   = 0.03 // a pressure part's span error with its tubes (common practice, no source)
	biasPrior   = 0.05 // of one gate set: handbook coefficients are good to 15 % to 30 %, one at a time
	filterPrior = 0.7  // of the resistance over the shop file's clean value
)

// calibration is the baseline's result.
type calibration struct {
	globals   [3]float64
	bias      map[string][]float64 // by gate set, channel: read over expected, less 1
	variance  map[string][]float64 // of bias, beyond what every day shares
	fresh     []float64            // bias of a gate set never seen, by channel
	freshVar  []float64            // and its variance, by channel
	logFilter float64              // of the filter over the shop file's clean value, in the baseline
	misfit    float64
	sets      []SetFit // by gate set, never changed
	from, to  time.Time
	version   int
}

// baselineFit gathers the unknowns of the calibration. Columns: globals, gain per channel, filter per day, density per
// day, slope of the filter per day, bias per gate set and channel.
type baselineFit struct {
	e        *Estimator
	days     [][]observation
	sets     []string
	setIndex map[string]int
	middle   []float64 // by day: fan hours since its first run
	channels int
	x        []float64

	normal *mat.SymDense // of the step that is made, see empty
	rhs    *mat.VecDense
	chol   mat.Cholesky
}

func (f *baselineFit) gain(c int) int    { return 3 + c }
func (f *baselineFit) filter(d int) int  { return 3 + f.channels + d }
func (f *baselineFit) density(d int) int { return 3 + f.channels + len(f.days) + d }
func (f *baselineFit) slope(d int) int   { return 3 + f.channels + 2*len(f.days) + d }
func (f *baselineFit) bias(set, c int) int {
	return 3 + f.channels + 3*len(f.days) + set*f.channels + c
}
func (f *baselineFit) size() int { return f.bias(len(f.sets), 0) }

// fitBaseline calibrates the model on the baseline's days.
func (e *Estimator) fitBaseline(days [][]observation) (*calibration, error) {
	f := &baselineFit{e: e, days: days, setIndex: map[string]int{}, channels: len(e.cols.channels)}
	for _, day := range days {
		for i := range day {
			key := day[i].set.key
			if _, ok := f.setIndex[key]; !ok {
				f.setIndex[key] = len(f.sets)
				f.sets = append(f.sets, key)
			}
		}
	}
	for _, day := range days {
		e.markUses(day)
		f.middle = append(f.middle, middles(&dayData{parts: 1, obs: day})[0])
	}
	f.x = make([]float64, f.size())
	for range hoodPasses {
		if err := f.converge(); err != nil {
			return nil, err
		}
		e.hoods = f.hoods()
	}
	if err := f.converge(); err != nil {
		return nil, err
	}
	return f.result(), nil
}

// hoodPasses is how often the baseline is fitted to learn how much the hoods scatter.
const hoodPasses = 3

// converge iterates until the shared parameters stand.
func (f *baselineFit) converge() error {
	for range iterations {
		moved, err := f.iterate()
		if err != nil {
			return err
		}
		if moved < 1e-4 {
			break
		}
	}
	return nil
}

// hoods returns what the runs show of the hoods beyond the fit. A gate set that was seen once has had its own ratio
// fitted to it and shows nothing.
func (f *baselineFit) hoods() hoods {
	out, was := newHoods(len(f.e.cols.machines)), f.e.hoods.all()
	seen := map[string]int{}
	for _, day := range f.days {
		for i := range day {
			seen[day[i].set.key]++
		}
	}
	for d, day := range f.days {
		for i := range day {
			o := &day[i]
			n := float64(seen[o.set.key])
			lin, _, ok := f.linear(d, o)
			if !ok || n < 2 {
				continue
			}
			for k, m := range o.set.machines {
				out.learnUse(m, was[m]*was[m]/o.shares[k], o.shares[k], f.e.cols.block0+m, &lin, lin.y, n/(n-1))
			}
		}
	}
	return out
}

// iterate does one Gauss–Newton step with the priors and returns the largest move of a shared parameter.
func (f *baselineFit) iterate() (float64, error) {
	normal, rhs := f.empty()
	for d, day := range f.days {
		for i := range day {
			f.add(normal, rhs, d, &day[i])
		}
	}
	prior := func(i int, sd float64) {
		normal.SetSym(i, i, normal.At(i, i)+1/(sd*sd))
		rhs.SetVec(i, rhs.AtVec(i)-f.x[i]/(sd*sd))
	}
	for i, sd := range globalPrior {
		prior(i, sd)
	}
	for c := range f.channels {
		prior(f.gain(c), f.e.cols.meters[c].gain)
	}
	for d := range f.days {
		prior(f.filter(d), filterPrior)
		prior(f.density(d), weatherOf(f.days[d]).densityError(0))
		prior(f.slope(d), slopePrior)
	}
	for s := range f.sets {
		for c := range f.channels {
			prior(f.bias(s, c), f.e.cols.meters[c].set)
		}
	}
	if !f.chol.Factorize(normal) {
		return 0, errNoFit
	}
	var step mat.VecDense
	if err := f.chol.SolveVecTo(&step, rhs); err != nil {
		if _, bad := err.(mat.Condition); !bad {
			return 0, errNoFit
		}
	}
	moved := 0.0
	for i := range f.x {
		f.x[i] += min(max(step.AtVec(i), -0.7), 0.7)
		if i < f.bias(0, 0) {
			moved = max(moved, math.Abs(step.AtVec(i)))
		}
	}
	return moved, nil
}

// empty returns the normal equations with nothing in them. They are the same ones for all steps: with many sensors they
// take tens of MB, and a small board has no room for those of several steps.
func (f *baselineFit) empty() (*mat.SymDense, *mat.VecDense) {
	if f.normal == nil {
		f.normal, f.rhs = mat.NewSymDense(f.size(), nil), mat.NewVecDense(f.size(), nil)
	}
	f.normal.Zero()
	f.rhs.Zero()
	return f.normal, f.rhs
}

// hours returns when a run was, in fan hours since the middle of its day's runs.
func (f *baselineFit) hours(d int, o *observation) float64 { return o.at - f.middle[d] }

// linear returns one observation's whitened equations about the fit as it stands, and the view behind them.
func (f *baselineFit) linear(d int, o *observation) (linear, *view, bool) {
	e := f.e
	set := f.setIndex[o.set.key]
	s := &state{logFilter: f.x[f.filter(d)] + f.x[f.slope(d)]*f.hours(d, o)}
	copy(s.globals[:], f.x[:3])
	v, at, atAir, err := e.viewer.at(o.set, s, o.air)
	if err != nil {
		return linear{}, nil, false
	}
	bias := make([]float64, f.channels)
	for c := range bias {
		row := v.jac[c]
		bias[c] = (1+f.x[f.gain(c)]+f.x[f.bias(set, c)])*
			(1+row[e.cols.filter]*(s.logFilter-at.logFilter)+row[e.cols.density]*f.x[f.density(d)]) - 1
	}
	lin, ok := e.equations(o, v, atAir, bias, bias, make([]float64, f.channels), nil)
	return lin, v, ok
}

// add adds one observation's normal equations.
func (f *baselineFit) add(normal *mat.SymDense, rhs *mat.VecDense, d int, o *observation) {
	lin, v, ok := f.linear(d, o)
	if !ok {
		return
	}
	idx, rows := f.rows(v, d, f.setIndex[o.set.key], f.hours(d, o), &lin)
	for i := range lin.y {
		for a, ia := range idx {
			rhs.SetVec(ia, rhs.AtVec(ia)+rows[i][a]*lin.y[i])
			for b := a; b < len(idx); b++ {
				r, c := ia, idx[b]
				if r > c {
					r, c = c, r
				}
				normal.SetSym(r, c, normal.At(r, c)+rows[i][a]*rows[i][b])
			}
		}
	}
}

// rows picks the whitened derivatives of one observation by the unknowns that it touches.
func (f *baselineFit) rows(v *view, d, set int, hours float64, lin *linear) ([]int, [][]float64) {
	k := &f.e.cols
	idx := []int{0, 1, 2, f.filter(d), f.density(d), f.slope(d)}
	for c := range f.channels {
		idx = append(idx, f.gain(c), f.bias(set, c))
	}
	rows := make([][]float64, len(lin.y))
	for i := range rows {
		x := lin.x[i]
		// the whitened derivative by a global is the same mix of channels as that by the gains
		row := make([]float64, 3, len(idx))
		for c := range f.channels {
			w := x[k.gain0+c]
			for j := range 3 {
				row[j] += w * v.globals[c][j]
			}
		}
		row = append(row, x[k.filter], x[k.density], x[k.filter]*hours)
		for c := range f.channels {
			row = append(row, x[k.gain0+c], x[k.gain0+c])
		}
		rows[i] = row
	}
	return idx, rows
}

// freshBelief is how many gate sets' worth of belief stand for all sensors being alike in how well the drawing predicts
// them: a tap far out hangs on more of the drawing than one at the collector.
const freshBelief = 4.0

// result turns the fit into a calibration.
func (f *baselineFit) result() *calibration {
	cal := &calibration{bias: map[string][]float64{}, variance: map[string][]float64{}, fresh: make([]float64, f.channels)}
	copy(cal.globals[:], f.x[:3])
	for c := range f.channels {
		cal.fresh[c] = f.x[f.gain(c)]
	}
	sumsq, taps, square := 0.0, 0.0, make([]float64, f.channels)
	for _, m := range f.e.cols.meters {
		if !m.fan {
			taps++
		}
	}
	for s, key := range f.sets {
		b := make([]float64, f.channels)
		for c := range b {
			x := f.x[f.bias(s, c)]
			b[c] = f.x[f.gain(c)] + x
			if !f.e.cols.meters[c].fan { // the drawing's misfit is that of the air in the ducts
				sumsq += x * x
			}
			square[c] += x * x
		}
		cal.bias[key] = b
		cal.variance[key] = f.ownError(key)
	}
	sets := float64(max(len(f.sets), 1))
	cal.misfit = math.Sqrt(sumsq / (sets * taps))
	for c := range square {
		m, usual := &f.e.cols.meters[c], cal.misfit
		if m.fan {
			usual = m.fresh
		}
		own := math.Sqrt((square[c] + freshBelief*usual*usual) / (sets + freshBelief))
		cal.freshVar = append(cal.freshVar, math.Pow(min(max(1.5*own, m.fresh), 0.2), 2))
	}
	cal.sets = f.fits(cal.variance)
	var logs []float64
	for d := range f.days {
		logs = append(logs, f.x[f.filter(d)])
	}
	sort.Float64s(logs)
	cal.logFilter = logs[len(logs)/2]
	return cal
}

// ownError is the variance of a gate set's bias that comes from how seldom it was seen in the baseline.
func (f *baselineFit) ownError(key string) []float64 {
	e := f.e
	out := make([]float64, f.channels)
	runs, days := 0.0, 0.0
	for c := range out {
		out[c] = e.cols.meters[c].set * e.cols.meters[c].set // of a channel that was silent in it
	}
	var last *observation
	var seenAs *view
	uses := map[int]float64{} // of each machine
	for d, day := range f.days {
		seen := false
		for i := range day {
			o := &day[i]
			if o.set.key != key {
				continue
			}
			if _, v, ok := f.linear(d, o); seenAs == nil && ok {
				seenAs = v
			}
			runs++
			seen = true
			last = o
			for k, m := range o.set.machines {
				uses[m] += o.shares[k]
			}
		}
		if seen {
			days++
		}
	}
	for i, c := range last.have {
		se := last.se[i] / math.Max(math.Abs(last.value[i]), 1)
		m := &e.cols.meters[c]
		out[c] = (se*se+m.run*m.run)/runs + m.day*m.day/days
		for _, m := range last.set.machines {
			if seenAs != nil {
				out[c] += math.Pow(seenAs.jac[c][e.cols.block0+m]*e.hoods.sd(m), 2) / math.Max(uses[m], 1)
			}
		}
	}
	return out
}
