package estimate

import (
	"math"
	"time"

	"gonum.org/v1/gonum/mat"

	"ductward/internal/detect"
)

// Priors of what may change, as standard deviations; also the weak belief about it after a change has been found.
const (
	leakPrior = 100.0 / 3600 // m³/s at the reference suction
	// growthPrior is how much a leak grows in a working day, in m³/s: seams open over weeks, and what is there after days
	// came at once (common practice, no source).
	growthPrior = 2.0 / 3600
	blockPrior  = 0.30         // of the log of a drop's loss
	chokePrior  = 0.70         // of the log of a trunk run's own loss, of which most is friction: half full, a run loses several times as much
	tearPrior   = 100.0 / 3600 // m³/s at the reference suction: a hole of some 10 cm²
	fanPrior    = 0.03         // of the log of the fan's speed
	wheelPrior  = 0.08         // of the log of the pressure that the fan makes, or that a restriction behind the tap leaves of it
	scalePrior  = 0.05         // of a sensor's scale
	// chokeDrift is how far a trunk run's loss wanders by itself.
	chokeDrift = 0.02
	// tearDrift is how far what passes the filter's medium wanders, in m³/s: a hole is there or it is not.
	tearDrift = 0.5 / 3600
	// wheelDrift is the same of what the fan makes of its speed: wheels cake and wear over months.
	wheelDrift = 0.001
)

// dayData is one day of runs, with what it says.
type dayData struct {
	label string
	first moment // its first run began, or, by civil time, ended
	obs   []observation
	uses  []int      // by use of a machine in them: which
	rough []roughRun // in place of obs where there is no drawing
	parts int        // stretches between cleanings, at least 1

	info       detect.Information           // on the changes, nuisances integrated out
	late       [lateDays]detect.Information // the same, of a day that is one of the last 1, 2, …
	own        []float64                    // variance of a leak in each zone by info, (m³/s)², were the baseline's gate-shut readings exact; nil: no gate was ever shut
	filter     []Value                      // log resistance over the shop file's, by part, at the middle of the part
	slope      Value                        // of the log resistance, per hour of fan
	speed      Value                        // log speed beyond what is known to have changed
	density    Value                        // log of the air's density over what is taken for it
	doubt      *mat.SymDense                // covariance of the last part's log resistance, density, speed and each channel's day error
	innovation float64
	misfit     float64 // sum of squares behind it
	freedom    float64 // and its degrees of freedom
	fanHours   float64
	closed     int
	at         int // index in the record
}

// lateDays is for how many days after an onset the correlation of the days' errors is counted day by day; from then on, as
// if there were many. A step is seen on its first day by one day's error, not by what that error does to a long mean.
const lateDays = 3

// asLate returns what a day says as one of the last n, or as any other where it is so long ago that only this is kept.
func (d *dayData) asLate(n int) detect.Information {
	if d.late[n-1].Lambda == nil {
		return d.info
	}
	return d.late[n-1]
}

// isOld tells whether a day is so long ago that no onset on the last few days concerns it.
func (e *Estimator) isOld(d *dayData) bool {
	n := len(e.days) - lateDays
	return n >= 0 && n < len(e.days) && d.at < e.days[n].at
}

// size returns the number of runs that a day holds, 0 for none.
func (d *dayData) size() int {
	if d == nil {
		return 0
	}
	return len(d.obs) + len(d.rough)
}

// drop lets the first runs of a day go.
func (d *dayData) drop(n int) {
	d.obs = d.obs[min(n, len(d.obs)):]
	d.rough = d.rough[min(n, len(d.rough)):]
}

// began returns the civil time of the first run, zero where none is known.
func (d *dayData) began() time.Time {
	if len(d.obs) == 0 {
		return time.Time{}
	}
	return d.obs[0].run.At
}

func (n nuisances) day(c int) int { return n.parts + 3 + c }

func (n nuisances) size() int { return n.parts + 3 + n.channels + n.traces + n.uses }

// fitDay turns a day's runs into information about the changes, linearised at x0, what is known to have changed by that
// day. The log resistance near which the day lies is guess.
func (e *Estimator) fitDay(d *dayData, x0 []float64, from float64) bool {
	guess := make([]float64, d.parts)
	for i := range guess {
		guess[i] = from
	}
	return e.fitAbout(d, x0, guess, 3)
}

// refitDay is fitDay for a day that has been fitted: its resistance is known already.
func (e *Estimator) refitDay(d *dayData, x0 []float64) bool {
	if len(d.filter) != d.parts {
		return e.fitDay(d, x0, e.filter.expect(e, d))
	}
	guess := make([]float64, d.parts)
	for i := range guess {
		guess[i] = d.filter[i].V
	}
	return e.fitAbout(d, x0, guess, 2)
}

// fitAbout fits a day in several passes, the first of which find the weights of its runs and the filter's resistance.
func (e *Estimator) fitAbout(d *dayData, x0, guess []float64, passes int) bool {
	if len(d.obs) == 0 { // of a baseline's day no run may be as told
		return false
	}
	d.uses = e.markUses(d.obs)
	weights := make([]float64, len(d.obs))
	for i := range weights {
		weights[i] = 1
	}
	for pass := range passes {
		sys := e.assemble(d, x0, guess, weights)
		if pass == passes-1 {
			return sys.settle(d) && sys.eliminate(d, x0)
		}
		x, chol := sys.solve(e.changePriors())
		if x == nil {
			return false
		}
		// a run that fits neither the day nor any one change is given less weight
		d.innovation = sys.residuals(d, x, chol, weights)
		for i := range guess { // the first guess may have been a cleaning away
			guess[i] += x.AtVec(e.cols.changes + i)
		}
	}
	return false
}

// changePriors returns the prior standard deviations of the changes.
func (e *Estimator) changePriors() []float64 {
	sd := make([]float64, e.cols.changes)
	for j := range sd {
		switch e.cols.kind(j) {
		case leakChange:
			sd[j] = leakPrior
		case blockChange:
			sd[j] = blockPrior
		case chokeChange:
			sd[j] = chokePrior
		case tearChange:
			sd[j] = tearPrior
		case housingChange:
			sd[j] = e.housingError()
		case fanChange:
			sd[j] = fanPrior
		case wheelChange, behindChange:
			sd[j] = wheelPrior
		default:
			sd[j] = scalePrior
		}
	}
	return sd
}

// settlePriors returns how far the changes may lie from what is known of them while the filter and the fan of the day
// are read off: a leak that began this morning is not yet known, and must not pass for a change of the filter.
func (e *Estimator) settlePriors() []float64 {
	sd := e.changePriors()
	zones := math.Sqrt(float64(max(len(e.cols.zones), 1)))
	for j := range sd {
		switch e.cols.kind(j) {
		case leakChange:
			sd[j] /= 2 * zones // together they may leak half as much as one may when a change is looked for
		case blockChange:
			sd[j] = math.Hypot(e.creep.drift(j-e.cols.block0), e.chipsOf(j-e.cols.block0))
		case chokeChange:
			sd[j] = chokeDrift
		case tearChange:
			sd[j] = tearDrift
		case housingChange:
			sd[j] = housingDay * e.housingError()
		case wheelChange, behindChange:
			sd[j] = wheelDrift
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
	value := func(i int) Value {
		unit, column := mat.NewVecDense(x.Len(), nil), mat.NewVecDense(x.Len(), nil)
		unit.SetVec(p+i, 1)
		_ = chol.SolveVecTo(column, unit) // positive definite by its priors
		return Value{V: x.AtVec(p + i), SE: math.Sqrt(column.AtVec(p + i))}
	}
	d.filter = d.filter[:0]
	for i := range s.n.parts {
		f := value(i)
		f.V += s.ref[i]
		d.filter = append(d.filter, f)
	}
	d.slope = value(s.n.slope())
	d.speed, d.density = value(s.n.speed()), value(s.n.density())
	if d.doubt = nil; d.at >= len(s.e.summary)-1 { // only the last day's is asked for
		d.doubt = s.doubtOf(chol)
	}
	return true
}
