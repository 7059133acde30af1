package estimate

import (
	"math"
	"slices"
	"sort"
	"time"

	"gonum.org/v1/gonum/mat"

	"ductward/internal/steady"
)

// calibration is the baseline's result.
type calibration struct {
	globals   tuning
	bias      map[string][]float64 // by gate set, channel: read over expected, less 1
	variance  map[string][]float64 // of bias, beyond what every day shares
	shut      map[string]bool      // the gate sets of the baseline with every gate shut
	odd       map[string]oddSet    // gate sets of which no run has read as told yet
	fresh     []float64            // bias of a gate set never seen, by channel
	freshVar  []float64            // and its variance, by channel, beside what is open of the ducts
	unseen    map[string][]float64 `checkpoint:"-"` // that with it, by gate set
	law       []float64            // by channel: see lawOf
	tightness float64              // variance of the log of how much the ducts leak as built
	logFilter float64              // of the filter over the shop file's clean value, in the baseline
	misfit    float64
	sets      []SetFit // by gate set, never changed
	out       int      // runs left out of it: they read as with another gate open than told
	from, to  time.Time
	version   int
}

// lawOf returns the share of a change's trace at a channel in one gate set that no other duct shows: the model's laws are as
// wrong of changes as the baseline finds them of gate sets.
func (cal *calibration) lawOf(c int) float64 {
	if cal.law == nil {
		return lawError
	}
	return cal.law[c]
}

// freshBelief is how many gate sets' worth of belief stand for all sensors being alike in how well the drawing predicts
// them: a tap far out hangs on more of the drawing than one at the collector.
const freshBelief = 4.0

// result turns the fit into a calibration.
func (f *baselineFit) result() *calibration {
	cal := &calibration{bias: map[string][]float64{}, variance: map[string][]float64{}, shut: map[string]bool{}, odd: map[string]oddSet{}, fresh: make([]float64, f.channels)}
	f.tune()
	cal.globals = f.e.viewer.tuned(f.tuning.factors, f.x[3:3+f.built], f.covariance(3, f.built))
	cal.tightness = varianceOf(&f.chol, leakGlobal)
	for c := range f.channels {
		cal.fresh[c] = f.x[f.gain(c)]
	}
	sumsq, taps := 0.0, 0.0
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
		}
		cal.bias[key] = b
		cal.variance[key] = f.ownError(key)
	}
	sets := float64(max(len(f.sets), 1))
	cal.misfit = math.Sqrt(sumsq / (sets * taps))
	for c, own := range f.spreadOfSets() {
		m := &f.e.cols.meters[c]
		cal.law = append(cal.law, math.Hypot(lawError, lawShare*own))
		cal.freshVar = append(cal.freshVar, math.Pow(min(max(1.5*own, m.fresh), 0.2), 2))
	}
	cal.sets = f.fits(cal.variance)
	for _, day := range f.days {
		for i := range day {
			if day[i].set.kind == steady.Closed {
				cal.shut[day[i].set.key] = true
			}
		}
	}
	var logs []float64
	for d := range f.days {
		logs = append(logs, f.x[f.filter(d)])
	}
	sort.Float64s(logs)
	cal.logFilter = logs[len(logs)/2]
	return cal
}

// covariance returns that of n of the unknowns, from one on.
func (f *baselineFit) covariance(from, n int) *mat.SymDense {
	out := mat.NewSymDense(n, nil)
	unit, column := mat.NewVecDense(f.size(), nil), mat.NewVecDense(f.size(), nil)
	for j := range n {
		unit.Zero()
		unit.SetVec(from+j, 1)
		_ = f.chol.SolveVecTo(column, unit) // positive definite by its priors
		for i := range j + 1 {
			out.SetSym(i, j, column.AtVec(from+i))
		}
	}
	return out
}

// setLeast is the least that gate sets are taken to lie from the fitted model.
const setLeast = 0.003

// learnSets learns how far gate sets lie from the fitted model, which is less than before anything was known of the ducts.
func (f *baselineFit) learnSets() {
	for c, sd := range f.spreadOfSets() {
		if m := &f.e.cols.meters[c]; !m.fan {
			f.setSD[c] = min(max(sd, setLeast), m.set)
		}
	}
}

// spreadOfSets returns, by channel, the standard deviation of the gate sets' biases, what the fit leaves open of each
// included, all else held: what all sets share is known far better.
func (f *baselineFit) spreadOfSets() []float64 {
	square, sets := make([]float64, f.channels), make([]float64, f.channels)
	all, taps := 0.0, 0.0
	for s, key := range f.sets {
		for c := range f.channels {
			if !f.reads(key, c) {
				continue
			}
			i := f.bias(s, c)
			square[c] += f.x[i]*f.x[i] + 1/f.normal.At(i, i)
			sets[c]++
		}
	}
	for c, m := range f.e.cols.meters {
		if !m.fan {
			all, taps = all+square[c], taps+sets[c]
		}
	}
	out := make([]float64, f.channels)
	for c, m := range f.e.cols.meters {
		usual := all / max(taps, 1)
		if m.fan {
			usual = m.fresh * m.fresh
		}
		out[c] = math.Sqrt((square[c] + freshBelief*usual) / (sets[c] + freshBelief))
	}
	return out
}

// reads tells whether a channel was read in a gate set.
func (f *baselineFit) reads(key string, c int) bool {
	for _, day := range f.days {
		for i := range day {
			if day[i].set.key == key && slices.Contains(day[i].have, c) {
				return true
			}
		}
	}
	return false
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
		out[c] = (se*se+m.run*m.run)/runs + (m.day*m.day+m.air*m.air)/days
		for _, m := range last.set.machines {
			if seenAs != nil {
				hood := e.hoods.sd(m)*e.hoods.sd(m)/math.Max(uses[m], 1) + e.hoodDays.sd(m)*e.hoodDays.sd(m)/days +
					e.stirs.sd(m)*e.stirs.sd(m)/runs
				out[c] += math.Pow(seenAs.jac[c][e.cols.block0+m], 2) * hood
			}
		}
	}
	return out
}
