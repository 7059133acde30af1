package estimate

import (
	"math"
	"slices"

	"ductward/internal/whichopen"
)

// cleanedAtWork is the probability that the filter was cleaned between two runs without the fan standing (common practice, no source).
const cleanedAtWork = 0.0005

// weighing is a run that is held against what it may be, with what is known of the filter before it.
type weighing struct {
	e       *Estimator
	o       *observation
	filter  Value
	tracker whichopen.Tracker
	in      *whichopen.Run
	hoods   []float64 // by machine
	has     map[string]bool
}

func (e *Estimator) weighing(o *observation, filter Value) *weighing {
	density, cleaned := o.known.densityError(1), cleanedAtWork
	if o.rested {
		cleaned = cleanedAtRest
	}
	w := &weighing{e: e, o: o, filter: filter, has: map[string]bool{o.set.key: true},
		tracker: whichopen.New([]float64{filter.V, 0, 0, 0}, []float64{filter.SE * filter.SE, unseenLeak * unseenLeak, unseenFanSpeed * unseenFanSpeed, density * density}),
		in: &whichopen.Run{Move: whichopen.Parted, Jumps: []whichopen.Jump{
			{Chance: cleaned, Shift: part(sharedFilter, cleanedShift), Var: part(sharedFilter, cleanedSpread*cleanedSpread)}}}}
	e.readLogs(w.in, o)
	for m := range e.cols.machines {
		w.hoods = append(w.hoods, e.hoodSD(m))
	}
	return w
}

// add takes in something that the run may be, and what it may be off by besides.
func (w *weighing) add(key string, x *expectation, usual float64, also func(*whichopen.Set)) {
	if !x.solved {
		return
	}
	s := w.e.candidate(x, w.o.air, w.hoods)
	s.Key, s.Usual = key, usual
	if also != nil {
		also(&s)
	}
	w.in.Sets = append(w.in.Sets, s)
}

// addSet takes in a gate set that is not among them yet.
func (w *weighing) addSet(key string, set gateSet, usual float64) {
	if !w.has[set.key] {
		w.has[set.key] = true
		w.add(key, w.e.expect(&set, w.filter.V, w.o.air), usual, nil)
	}
}

// take returns the probabilities, and the filter's log resistance after the run.
func (w *weighing) take() (whichopen.Belief, Value) {
	b := w.tracker.Take(w.in)
	return b, Value{w.tracker.Mean[sharedFilter], math.Sqrt(w.tracker.Cov[sharedFilter][sharedFilter])}
}

// weighAs weighs a run as one with a set of gates, and with nothing else that it may be.
func (e *Estimator) weighAs(o *observation, filter Value, set *gateSet) (whichopen.Belief, Value) {
	w := e.weighing(o, filter)
	w.add("told", e.expect(set, filter.V, o.air), 1, nil)
	return w.take()
}

// weighTold weighs a run as it is told, with one of some machines open besides, with one shut off that may be, and with whatever else
// may explain it. It returns the filter's log resistance after the run too.
func (e *Estimator) weighTold(o *observation, filter Value, machines []int) (whichopen.Belief, Value) {
	w := e.weighing(o, filter)
	told := e.expect(o.set, filter.V, o.air)
	w.add("told", told, 1, nil)
	w.add("fan", told, slowFanChance, func(s *whichopen.Set) { widen(s, column(told.rows, sharedFan), slowFanSpread) })
	for k, m := range told.machines {
		w.add("hood:"+e.cols.machines[m], told, hoodChance/float64(len(told.machines)),
			func(s *whichopen.Set) { widen(s, column(told.blocks, k), hoodSpread) })
	}
	w.addLeaks()
	w.addMended()
	as, again := e.withUnknown(o.run), e.openAgain()
	for _, m := range machines {
		if set, ok := e.settingWith(&as, []int{m}); ok {
			w.addSet("open:"+e.cols.machines[m], set, leftOpenChance/float64(len(machines))+again[m])
		}
	}
	for _, l := range e.lessSets(o) {
		w.addSet(l.key(), l.set, l.chance)
	}
	return w.take()
}

// addLeaks takes in leaks of all sizes near the collector and far from it.
func (w *weighing) addLeaks() {
	places := w.e.leakPlaces()
	for _, zone := range places {
		for _, q := range leakSizes {
			x := w.e.expectLeak(w.o.set, w.filter.V, w.o.air, q, zone)
			w.add("leak", x, largeLeak*leakSizes[0]/q/float64(len(places)),
				func(s *whichopen.Set) { widen(s, column(x.rows, sharedLeak), leakSizeSpread*q) })
		}
	}
}

// mended is the key of a run without a leak that is known.
const mended = "mended"

// mendedFilter is by how much the log of the filter's resistance may be off while a leak is known whose place is not.
const mendedFilter = 0.15

// addMended takes in that a leak that is known is there no more.
func (w *weighing) addMended() {
	e := w.e
	stays := staysShut * e.gone
	odds := max(suddenLeak, stays/(1-stays))
	for _, c := range e.changes {
		if was := c.value(len(e.summary)); e.cols.isLeak(c.col) && was > 0 {
			x := e.expectLeak(w.o.set, w.filter.V, w.o.air, -was, c.col)
			w.add(mended, x, odds, func(s *whichopen.Set) { widen(s, column(x.rows, sharedFilter), mendedFilter) })
		}
	}
}

// column is one column of a matrix of rows.
func column(rows [][]float64, j int) []float64 {
	out := make([]float64, len(rows))
	for i := range rows {
		out[i] = rows[i][j]
	}
	return out
}

// widen adds to a candidate what something may be off by of which each channel has a share.
func widen(s *whichopen.Set, by []float64, sd float64) {
	for c := range s.Cov {
		for d := range s.Cov[c] {
			s.Cov[c][d] += sd * sd * by[c] * by[d]
		}
	}
}

// leakSpots is in how many places of the trunk a large leak is tried.
const leakSpots = 4

// leakPlaces picks runs of the trunk from one end of the list to the other, that of commonLeak among them.
func (e *Estimator) leakPlaces() []int {
	common := e.cols.commonLeak()
	if common < 0 {
		return nil
	}
	var all []int
	for j, z := range e.cols.zones {
		if partKind(z) == "run" && !e.cols.gated[j] && !e.cols.isRepeat(j) && j != common {
			all = append(all, j)
		}
	}
	out := []int{common}
	for n := range min(leakSpots-1, len(all)) {
		out = append(out, all[n*(len(all)-1)/max(leakSpots-2, 1)])
	}
	return slices.Compact(out)
}
