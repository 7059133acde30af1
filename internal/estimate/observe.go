package estimate

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"ductward/internal/air"
	"ductward/internal/steady"
)

// The noise that a run has beyond the scatter of its samples. These are priors: what the record shows beyond them
// widens every error (see inflation).
const (
	speedJitter  = 0.002  // of the fan's speed within a quarter of an hour (common practice, no source)
	zeroDrift    = 0.4    // Pa, of a zero within a day, before the sensor has shown its own (common practice, no source)
	unzeroed     = 3.0    // Pa, of a sensor that has never been zeroed
	modelFloor   = 0.0015 // of any reading: what no error above accounts for
	tinyPressure = 0.05   // Pa, a floor under a standard error
)

// observation is what one run says, as ratios against what the view expects.
type observation struct {
	set   *gateSet
	run   *steady.Run
	at    float64   // hours since the day's first run
	part  int       // stretch of the day between cleanings
	have  []int     // channels present
	value []float64 // by have: what was read, in Pa
	se    []float64 // by have: its standard error in Pa, zero included
	air   air.State
	known weather // of it, what was measured

	rested bool      // the fan stood, or nobody knows, between the run before and this one
	asTold bool      // it reads as its gates are told
	held   *held     // it does not, and what it may be instead; nil: nothing was asked
	shares []float64 // by machine of the set: this run's share of the use of the machine that it belongs to
	uses   []int     // the same: the number of that use in its day
}

// observe reads a run. It returns false where none of the channels was read.
func (e *Estimator) observe(r *steady.Run, set *gateSet) (observation, bool) {
	o := observation{set: set, run: r, air: e.airOf(r), known: e.measured(r)}
	for c, ch := range e.cols.channels {
		s := channelOf(r, ch)
		if s == nil || math.IsNaN(s.SE) || e.distrusted[ch] || e.refused[ch] {
			continue
		}
		o.have = append(o.have, c)
		o.value = append(o.value, s.Mean)
		o.se = append(o.se, e.errorOf(c, s))
	}
	return o, len(o.have) > 0
}

// channelOf returns a channel's summary in a run, nil if it is not there.
func channelOf(r *steady.Run, channel string) *steady.Summary {
	for i := range r.Channels {
		if r.Channels[i].Channel == channel {
			return &r.Channels[i]
		}
	}
	return nil
}

// linear is one run as linear equations: y ≈ X·(x − x₀) + noise, whitened so that the noise has variance 1.
type linear struct {
	y []float64   // by channel present
	x [][]float64 // [channel present][columns.all]
}

// equations turns an observation into whitened equations about a view made in the air at. The bias is by channel, gain is
// the part of it that scales every reading of the channel, biasVar the variance of the rest.
//
// What extra holds, by channel, is put behind the columns of a row. The hood is the standard deviation of the log of the losses of the
// set's k-th machine in this run, as far as it is not among the unknowns.
func (e *Estimator) equations(o *observation, v *view, at air.State, bias, gain, biasVar []float64, extra [][]float64,
	hood func(o *observation, k int) float64) (linear, bool) {
	n := len(o.have)
	cov := mat.NewSymDense(n, nil)
	out := linear{y: make([]float64, n), x: make([][]float64, n)}
	dRho := math.Log(o.air.Density / at.Density)
	dMu := math.Log(o.air.Viscosity / at.Viscosity)
	for i, c := range o.have {
		row := v.jac[c]
		expect := v.pred[c] * (1 + bias[c]) * (1 + row[e.cols.density]*dRho + row[e.cols.filter]*dMu)
		out.y[i] = o.value[i]/expect - 1
		out.x[i] = append([]float64(nil), row...)
		if extra != nil {
			out.x[i] = append(out.x[i], extra[c]...)
		}
		if o.set.kind == steady.Closed {
			// all flow is leakage: what the designed leakage is off by adds to a new leak and does not scale it
			for j := range e.cols.zones {
				out.x[i][j] *= (1 + gain[c]) / (1 + bias[c])
			}
		}
		se := o.se[i] / expect
		run := e.cols.meters[c].run
		cov.SetSym(i, i, se*se+run*run+biasVar[c])
	}
	e.addJitter(cov, o, v, hood)
	return out, whiten(&out, cov)
}

// addJitter adds the errors that all channels of a run share: each open machine's hood, and the fan's speed.
func (e *Estimator) addJitter(cov *mat.SymDense, o *observation, v *view, hood func(o *observation, k int) float64) {
	add := func(col int, sd float64) {
		for i, c := range o.have {
			for j := i; j < len(o.have); j++ {
				cov.SetSym(i, j, cov.At(i, j)+sd*sd*v.jac[c][col]*v.jac[o.have[j]][col])
			}
		}
	}
	for k, m := range o.set.machines {
		sd := guessedHood
		if !guessed(o) {
			sd = hood(o, k)
		}
		add(e.cols.block0+m, math.Hypot(sd, e.chipsOf(m)))
	}
	add(e.cols.fan, speedJitter)
}

// whiten multiplies the equations by the inverse of the Cholesky factor of their covariance.
func whiten(l *linear, cov *mat.SymDense) bool {
	var chol mat.Cholesky
	if !chol.Factorize(cov) {
		return false
	}
	var low mat.TriDense
	chol.LTo(&low)
	n := len(l.y)
	for i := range n {
		for k := range i {
			f := low.At(i, k)
			l.y[i] -= f * l.y[k]
			for j := range l.x[i] {
				l.x[i][j] -= f * l.x[k][j]
			}
		}
		d := 1 / low.At(i, i)
		l.y[i] *= d
		for j := range l.x[i] {
			l.x[i][j] *= d
		}
	}
	return true
}
