package estimate

import (
	"math"
	"sort"
)

// Some hoods also come to stand otherwise for good: a hose creeps, a guard is bent, a hood is set a little further away. It shows
// as a leak on its drop does, and no number of days makes it less. So how far a machine's losses wander, as a random walk from week
// to week of work, is the fourth part of their scatter, and like the others it is the shop's own and learnt from the record. For each
// of a row of standard deviations the walk is followed day by day, and how well each foretells the next day is its likelihood.
const (
	creepPrior  = 0.005 // of a machine's losses, in a week of work; with its doubt 1 % (common practice, no source)
	creepLeast  = 0.001
	creepShared = 40.0 // weeks' worth of belief: see stirShared
	creepTold   = 1e-6 // see hoodDayTold: a day counts as far as it tells
	weekOfWork  = 5.0  // days
	fewestWeeks = 4.0  // over which what was before a change is held against what came after
)

// creep is what the days so far say of how far each machine's losses wander.
type creep struct {
	hoods hoods
	walks [][]walked // by machine and standard deviation of the row
	last  []int      // by machine: day of work on which it was seen last, from 1; 0: not yet
	day   int        // of work since the baseline began
}

// walked is where a machine's loss has walked to by one standard deviation a week.
type walked struct{ mean, variance float64 }

func newCreep(machines int) creep {
	w := creep{hoods: newHoods(machines, creepPrior, creepLeast), walks: make([][]walked, machines), last: make([]int, machines)}
	w.hoods.alike = creepShared
	for m := range w.walks {
		w.walks[m] = make([]walked, len(w.hoods.row))
	}
	return w
}

// restart begins the walks anew, as a new baseline does. How far they go is still known.
func (w *creep) restart() { clear(w.last); w.day = 0 }

// nextDay begins a day of work.
func (w *creep) nextDay() {
	w.day++
	w.hoods.fade()
}

// add takes in how a machine's hood stood on a day, as it is found with a variance, where it was believed to stand as usual with the
// variance prior. That belief is taken out again; how the hood stands from day to day is an error of the walk.
func (w *creep) add(m int, found, variance, prior float64) {
	deviation, own, ok := witness(found, variance, prior, creepTold)
	if !ok {
		return
	}
	own += prior
	weeks := float64(w.day-w.last[m]) / weekOfWork
	for k, sd := range w.hoods.row {
		at := &w.walks[m][k]
		if w.last[m] == 0 {
			*at = walked{deviation, own}
			continue
		}
		at.variance += sd * sd * weeks
		off, v := deviation-at.mean, at.variance+own
		chi := min(off*off/v, hoodOutlier*hoodOutlier)
		w.hoods.log[m][k] -= (math.Log(v) + chi) / 2
		gain := at.variance / v
		at.mean += gain * off
		at.variance *= 1 - gain
	}
	if w.last[m] > 0 {
		w.hoods.uses[m] += 1 / weekOfWork
		w.hoods.sds = nil
	}
	w.last[m] = w.day
}

// stands returns where a machine's loss has walked to by the day before, with the variance of that; the baseline's before anything
// is seen.
func (w *creep) stands(m int) (mean, variance float64) {
	if w.last[m] == 0 {
		return 0, 0
	}
	sd := w.hoods.sd(m)
	k := min(sort.SearchFloat64s(w.hoods.row, sd), len(w.hoods.row)-1)
	at := w.walks[m][k]
	return at.mean, at.variance + sd*sd*float64(w.day-w.last[m])/weekOfWork
}

// drift is the standard deviation of how far a machine's losses have wandered by themselves since the baseline.
func (w *creep) drift(m int) float64 {
	return w.hoods.sd(m) * math.Sqrt(max(fewestWeeks, float64(w.day)/weekOfWork))
}

// drifts returns that of all machines.
func (w *creep) drifts() []float64 {
	out := make([]float64, len(w.walks))
	for m := range out {
		out[m] = w.drift(m)
	}
	return out
}

// crept takes what the baseline's days show of it.
func (f *baselineFit) crept(w *creep) {
	w.restart()
	for d := range f.days {
		w.nextDay()
		for m, sd := range f.e.hoodDays.all() {
			i := f.hood(d, m)
			w.add(m, f.x[i], varianceOf(&f.chol, i), sd*sd)
		}
	}
}
