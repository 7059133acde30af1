package estimate

import (
	"math"

	"ductward/internal/steady"
)

// SetFit is how far one gate set lies from the calibrated model in the baseline.
type SetFit struct {
	Open     []string      // gates, sorted
	Ports    []steady.Port // selectors, sorted by name
	Runs     int
	Days     int
	Channels []ChannelFit
}

// ChannelFit is one sensor's part of it, as log(read/expected) after calibration.
type ChannelFit struct {
	Channel string
	Misfit  Value
}

// Baseline returns the baseline as it stands.
func (e *Estimator) Baseline() Baseline {
	b := Baseline{MisfitRMS: math.NaN(), Versions: e.versions(), DaysNeeded: baselineDays, RunsNeeded: baselineRuns}
	if e.viewer == nil {
		b.RunsNeeded = 0 // any run of a day will do
	}
	if e.cal == nil || e.asked == newBaseline {
		b.Days, b.Runs = e.progress()
		b.Walk = e.walk()
	}
	b.Asked = e.askedWords()
	if e.cal == nil {
		b.Lacks = e.baselineLacks()
		if len(e.gathered) > 0 {
			b.From = e.gathered[0].began()
		}
		return b
	}
	b.From, b.To, b.Version, b.GateSets = e.cal.from, e.cal.to, e.cal.version, len(e.cal.sets)
	b.MisfitRMS, b.Sets, b.Complete, b.LeftOut = e.cal.misfit, e.cal.sets, true, e.cal.out
	return b
}

// progress counts the days and runs of the baseline in the making, those of the day that goes on among them.
func (e *Estimator) progress() (days, runs int) {
	if e.viewer == nil {
		return e.simpleProgress(), 0
	}
	if e.cal == nil {
		days, runs = e.gatheredSize()
	}
	if n := e.open.size(); n > 0 && e.asked == newBaseline {
		runs += n - e.earlier
	} else {
		runs += n
	}
	return days, runs
}

// simpleProgress counts the days that a collector without a drawing has gathered.
func (e *Estimator) simpleProgress() int {
	if e.lump == nil || e.cal != nil || e.asked == newBaseline {
		return 0
	}
	return len(e.days)
}

// Change is what an entry has asked of the baseline and the end of the day's work will bring.
type Change struct {
	New  bool // another one is to be taken
	Back int  // this version is to hold again; 0: none
}

func (e *Estimator) askedWords() Change {
	return Change{New: e.asked == newBaseline, Back: max(e.asked, 0)}
}

// fits lists how far each gate set lies from the model, in the order in which they were first seen.
func (f *baselineFit) fits(variance map[string][]float64) []SetFit {
	runs, days := map[string]int{}, map[string]int{}
	for _, day := range f.days {
		seen := map[string]bool{}
		for i := range day {
			key := day[i].set.key
			runs[key]++
			seen[key] = true
		}
		for _, key := range sortedKeys(seen) {
			days[key]++
		}
	}
	var out []SetFit
	for s, key := range f.sets {
		fit := SetFit{Open: f.e.sets[key].open, Runs: runs[key], Days: days[key]}
		for _, name := range sortedKeys(f.e.sets[key].setting.Port) {
			fit.Ports = append(fit.Ports, steady.Port{Selector: name, Port: f.e.sets[key].setting.Port[name]})
		}
		for c, ch := range f.e.cols.channels {
			if f.reads(key, c) {
				fit.Channels = append(fit.Channels, ChannelFit{ch, Value{f.x[f.bias(s, c)], math.Sqrt(variance[key][c])}})
			}
		}
		out = append(out, fit)
	}
	return out
}
