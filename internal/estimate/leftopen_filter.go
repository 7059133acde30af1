package estimate

import (
	"math"

	"ductward/internal/whichopen"
)

// toldFilter is the filter's log resistance as the runs of a day leave it that read as their gates are told: it is loaded by
// the evening, and may have been cleaned in the morning.
type toldFilter struct {
	at  int // index of the day
	log Value
}

const (
	filterSlack  = 0.03 // by which the filter's log resistance may lie from what is known of it, beside its error
	leastCleaned = 0.15 // by which it is less where the filter was cleaned
	mostCleaned  = 2.0  // the same at most: from blinded to new
	filterSteps  = 4    // of Newton's method, which bring it to within a hundredth
)

// filterBefore returns the filter's log resistance before a run as far as it is known.
func (e *Estimator) filterBefore() Value {
	known := e.toldFilter.log
	if e.toldFilter.at != len(e.summary) {
		known = Value{V: e.logFilterNow()}
		if n := len(e.filter.points); n > 0 {
			known.SE = e.filter.points[n-1].log.SE
		}
	}
	return Value{V: known.V, SE: math.Hypot(filterSlack, known.SE)}
}

// cleanedTo returns the filter's log resistance where a run of a set of gates would put it, if that is so low that the filter was
// cleaned. A gate that stands open lets the drop rise, and looks like nothing of the kind.
func (e *Estimator) cleanedTo(o *observation, set *gateSet, before Value) (Value, bool) {
	f := e.filterBy(o, set, before.V)
	return Value{V: f, SE: before.SE}, f < before.V-leastCleaned && f > before.V-mostCleaned
}

// filterAsTold returns the filter's log resistance before a run, and whether the run reads as its gates are told. Where that takes a
// filter that was cleaned meanwhile, or the set is hardly known, it does only if it does not read as with one gate less.
func (e *Estimator) filterAsTold(o *observation) (Value, bool) {
	before := e.filterBefore()
	after, ok := e.readsAsTold(o, before)
	if ok && after.V > before.V-leastCleaned && (e.cal.variance[o.set.key] != nil && !e.telling.suspect(o.run.Open) || e.ratherTold(o, before)) {
		e.toldFilter = toldFilter{at: len(e.summary), log: after}
		return before, true
	}
	if e.readsAsShut(o, before) {
		return before, false
	}
	if ok {
		e.toldFilter = toldFilter{at: len(e.summary), log: after}
		return before, true
	}
	if cleaned, ok := e.cleanedTo(o, o.set, before); ok {
		if after, ok := e.readsAsTold(o, cleaned); ok {
			e.toldFilter = toldFilter{at: len(e.summary), log: after}
			return cleaned, true
		}
	}
	return before, false
}

// readsAsTold tells whether a run reads as its gates are told with the filter's log resistance before it, and where that is after it.
func (e *Estimator) readsAsTold(o *observation, before Value) (after Value, ok bool) {
	told, after := e.weighAs(o, before, o.set)
	return after, told.None < 0.5
}

// ratherTold tells whether a run is more probably as told than anything else. It is asked of a set that was never seen, of which it is
// hardly known what it reads, and that is learnt from its first runs, and where a gate is suspected to be shut.
func (e *Estimator) ratherTold(o *observation, before Value) bool {
	belief, _ := e.weighTold(o, before, e.toldShut(o))
	return probabilityOf(belief, "told") >= 0.5
}

// probabilityOf returns that of what a run may be, 0 where it was not thought of.
func probabilityOf(b whichopen.Belief, key string) float64 {
	sum := 0.0
	for _, s := range b.Sets {
		if s.Key == key {
			sum += s.Probability
		}
	}
	return sum
}

// readsAsShut tells whether a gate that is shut though it is told open explains a run with the filter as it was. Little air makes little
// drop: any run with less air than told would pass for a cleaning of some depth, and hardly ever for one gate less.
func (e *Estimator) readsAsShut(o *observation, before Value) bool {
	for _, l := range e.lessSets(o) {
		if shut, _ := e.weighAs(o, before, &l.set); shut.None < 0.5 {
			return true
		}
	}
	return false
}

// weighOpen weighs a run that does not read as its gates are told, where the filter's log resistance was before. It may have
// been cleaned while a gate stood open that was found to.
func (e *Estimator) weighOpen(o *observation, before Value) (whichopen.Belief, Value) {
	tries := []Value{before}
	if f := e.standingLeftOpen(); f != nil {
		as := e.withUnknown(o.run)
		for _, m := range e.suspectsOf(f) {
			if set, ok := e.settingWith(&as, []int{m}); ok {
				if cleaned, ok := e.cleanedTo(o, &set, before); ok {
					tries = append(tries, cleaned)
				}
			}
		}
	}
	var belief whichopen.Belief
	for i, f := range tries {
		b, after := e.weighTold(o, f, e.toldShut(o))
		if b.None < 0.5 {
			if i > 0 { // else the gate is what is in question, and nothing else is learnt
				e.toldFilter = toldFilter{at: len(e.summary), log: after}
			}
			return b, f
		}
		if i == 0 {
			belief = b
		}
	}
	return belief, before
}

// filterBy returns the filter's log resistance at which a run would read its filter's drop with a set of gates; from, where it
// was not read.
func (e *Estimator) filterBy(o *observation, set *gateSet, from float64) float64 {
	for i, c := range o.have {
		if !e.cols.ofFilter[c] || o.value[i] <= 2*o.se[i] {
			continue
		}
		f, known := from, e.known(len(e.summary))
		for range filterSteps {
			x := e.expect(set, f, o.air)
			if !x.solved || x.rows[c][sharedFilter] <= 0 {
				return from
			}
			slope := x.rows[c][sharedFilter]
			expected := math.Log(math.Abs(x.pred[c])) + math.Log1p(e.biasOf(set.key)[c]) + math.Log1p(known[e.cols.gain0+c]) + slope*(f-x.filter)
			f += min(max((math.Log(o.value[i])-expected)/slope, -0.7), 0.7)
		}
		return f
	}
	return from
}
