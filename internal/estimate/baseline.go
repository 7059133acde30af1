package estimate

import (
	"math"

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

// leakGlobal is the place of the ducts' leakage as built among them.
const leakGlobal = 1

const (
	gainPrior   = 0.03 // a pressure part's span error with its tubes (common practice, no source)
	biasPrior   = 0.05 // of one gate set: handbook coefficients are good to 15 % to 30 %, one at a time
	filterPrior = 0.7  // of the resistance over the shop file's clean value
)

// baselineFit gathers the unknowns of the calibration. Columns: globals, how the ducts are built, gain per channel, filter per
// day, density per day, slope of the filter per day, how each machine's hood stands on each day, bias per gate set and
// channel, how the hood stands at each use of a machine.
type baselineFit struct {
	e        *Estimator
	days     [][]observation
	sets     []string
	setIndex map[string]int
	middle   []float64 // by day: fan hours since its first run
	uses     []int     // by use of a machine, of all days: which
	useFrom  []int     // by day: the number of its first
	channels int
	built    int           // numbers that say how the ducts are built
	drawn    *mat.SymDense // the inverse of their prior covariance; nil where there are none
	x        []float64
	tuning   tuning    // of the model by x
	setSD    []float64 // by channel: how far gate sets lie from the fitted model

	normal *mat.SymDense // of the last step, see empty
	rhs    *mat.VecDense
	chol   mat.Cholesky
}

func (f *baselineFit) gain(c int) int    { return 3 + f.built + c }
func (f *baselineFit) filter(d int) int  { return f.gain(f.channels) + d }
func (f *baselineFit) density(d int) int { return f.filter(len(f.days)) + d }
func (f *baselineFit) slope(d int) int   { return f.density(len(f.days)) + d }
func (f *baselineFit) hood(d, m int) int { return f.slope(len(f.days)) + d*len(f.e.cols.machines) + m }
func (f *baselineFit) bias(set, c int) int {
	return f.hood(len(f.days), 0) + set*f.channels + c
}
func (f *baselineFit) use(d, u int) int { return f.bias(len(f.sets), 0) + f.useFrom[d] + u }
func (f *baselineFit) size() int        { return f.bias(len(f.sets), 0) + len(f.uses) }

// newFit prepares the calibration of the model on the baseline's days.
func (e *Estimator) newFit(days [][]observation) *baselineFit {
	f := &baselineFit{e: e, days: days, setIndex: map[string]int{}, channels: len(e.cols.channels), built: e.viewer.unbuilt()}
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
		f.useFrom = append(f.useFrom, len(f.uses))
		f.uses = append(f.uses, e.markUses(day)...)
		f.middle = append(f.middle, middles(&dayData{parts: 1, obs: day})[0])
	}
	f.drawn = inverse(e.viewer.builtCovariance())
	f.x = make([]float64, f.size())
	for _, m := range e.cols.meters {
		f.setSD = append(f.setSD, m.set)
	}
	return f
}

// fit calibrates the model in several passes, after each of which it is known better how much the hoods scatter.
func (f *baselineFit) fit() (*calibration, error) {
	e := f.e
	if f.built > 0 && f.drawn == nil {
		return nil, errNoFit
	}
	e.viewer.learning = true
	defer func() {
		e.viewer.learning = false
		clear(e.viewer.cache) // of models on the way to the fitted one, with more than is asked of a day
	}()
	for range hoodPasses {
		if err := f.converge(); err != nil {
			return nil, err
		}
		e.hoods, e.hoodDays = f.hoods(), f.hoodDays()
		f.learnSets()
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

// hoods returns what the uses of the machines show of their hoods.
func (f *baselineFit) hoods() hoods {
	out, was := newHoods(len(f.e.cols.machines), hoodPrior, hoodLeast), f.e.hoods.all()
	for u, v := range lastVariances(&f.chol, len(f.uses)) { // of all days
		m := f.uses[u]
		out.addDay(m, f.x[f.use(0, u)], v, was[m]*was[m])
	}
	return out
}

// iterate does one Gauss–Newton step with the priors and returns the largest move of a shared parameter.
func (f *baselineFit) iterate() (float64, error) {
	normal, rhs := f.empty()
	f.tune()
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
	f.addBuiltPrior(normal, rhs)
	for c := range f.channels {
		prior(f.gain(c), f.e.cols.meters[c].gain)
	}
	for d := range f.days {
		prior(f.filter(d), filterPrior)
		prior(f.density(d), weatherOf(f.days[d]).densityError(0))
		prior(f.slope(d), slopePrior)
		for m, sd := range f.e.hoodDays.all() {
			prior(f.hood(d, m), sd)
		}
	}
	for u, m := range f.uses {
		prior(f.use(0, u), f.e.hoods.sd(m))
	}
	for s := range f.sets {
		for c := range f.channels {
			prior(f.bias(s, c), f.setSD[c])
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

// addBuiltPrior adds what is believed of how the ducts are built before they are read.
func (f *baselineFit) addBuiltPrior(normal *mat.SymDense, rhs *mat.VecDense) {
	for i := range f.built {
		for j := range f.built {
			p := f.drawn.At(i, j)
			rhs.SetVec(3+i, rhs.AtVec(3+i)-p*f.x[3+j])
			if j <= i {
				normal.SetSym(3+i, 3+j, normal.At(3+i, 3+j)+p)
			}
		}
	}
}

// inverse of a covariance that is positive definite; nil of none.
func inverse(cov *mat.SymDense) *mat.SymDense {
	var chol mat.Cholesky
	if cov == nil || !chol.Factorize(cov) {
		return nil
	}
	var out mat.SymDense
	if err := chol.InverseTo(&out); err != nil {
		return nil
	}
	return &out
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
