package estimate

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"ductward/internal/steady"
)

const (
	softPressure  = 20.0 // Pa that are added to both sides of a ratio, so that next to nothing over next to nothing is nothing
	leastSieve    = 0.02 // of the log of a reading over what is expected, s.d. among runs as told
	shutSieve     = 0.1  // the same with every gate shut, where fan and leakage as built alone count,
	shutFlow      = 0.5  // and beside it of a pressure of no more than softPressure
	levelRuns     = 31   // over which the filter's drop is taken to stand
	sorelyStrange = 4    // times the bar: a run in which gates were moved that nobody noted reads as no set at all
	leastAlike    = 3    // runs that look like another set: perhaps so it was built
)

// sieve tells runs of a baseline in the making that were not as told.
type sieve struct {
	e      *Estimator
	tuning tuning
	reads  map[string][]float64 // by gate set, filter and air: by channel
	level  [][]float64          // by day and run: log resistance of the filter over the shop file's
	offset []float64            // by channel: log of read over expected, of all runs
	spread []float64            // and its standard deviation
}

// ratios returns, by channel of a run, the log of what it reads over what the model reads in a gate set; nil where that has no
// solution.
func (s *sieve) ratios(o *observation, set *gateSet, level float64) []float64 {
	level = unseenFilterGrid * math.Round(level/unseenFilterGrid)
	key := fmt.Sprintf("%s;%.3f;%.0f;%.0f", set.key, level, o.air.Temperature, o.air.Pressure/500)
	expected, ok := s.reads[key]
	if !ok {
		v := s.e.viewer
		if res, err := v.model.Solve(v.ductState(set, &state{logFilter: level, globals: s.tuning}, o.air)); err == nil {
			for _, i := range s.e.cols.sensor {
				expected = append(expected, res.Sensors[i].Value)
			}
		}
		s.reads[key] = expected
	}
	if expected == nil {
		return nil
	}
	out := make([]float64, len(o.have))
	for i, c := range o.have {
		read, want := o.value[i], expected[c]
		if want < 0 {
			read, want = -read, -want
		}
		out[i] = math.Log((max(read, 0) + softPressure) / (want + softPressure))
	}
	return out
}

// levels takes the filter's resistance from its drop in the runs about each, from one day to the next: a gate that is told open
// for half a day and is not would else pass for a cleaner filter. A cleaning is a step, which a median keeps.
func (s *sieve) levels() {
	s.level = make([][]float64, len(s.e.gathered))
	n := 0
	s.each(func(d, _ int, _ *observation) { s.level[d], n = append(s.level[d], 0), n+1 })
	for range 3 { // its drop is not the media's alone, and slows the air
		logs := make([]float64, 0, n)
		s.each(func(d, i int, o *observation) { logs = append(logs, s.level[d][i]+s.filterLog(o, s.level[d][i])) })
		k := 0
		s.each(func(d, i int, _ *observation) {
			about := slices.DeleteFunc(slices.Clone(logs[max(k-levelRuns/2, 0):min(k+levelRuns/2+1, n)]), math.IsNaN)
			if len(about) > 0 {
				s.level[d][i] = min(max(median(about), -2), 2)
			}
			k++
		})
	}
}

// filterLog returns what the filter's drop reads over what is expected in a run, NaN where it is not read or no gate is open.
func (s *sieve) filterLog(o *observation, level float64) float64 {
	if o.set.kind == steady.Closed {
		return math.NaN()
	}
	logs := s.ratios(o, o.set, level)
	for i, c := range o.have {
		if logs != nil && s.e.cols.ofFilter[c] {
			return logs[i]
		}
	}
	return math.NaN()
}

// usual learns by how much the runs with a gate open differ from the model together, and by how much one by one.
func (s *sieve) usual() {
	n := len(s.e.cols.channels)
	all := make([][]float64, n)
	s.each(func(d, i int, o *observation) {
		if o.set.kind == steady.Closed {
			return
		}
		for k, x := range s.ratios(o, o.set, s.level[d][i]) {
			all[o.have[k]] = append(all[o.have[k]], x)
		}
	})
	s.offset, s.spread = make([]float64, n), make([]float64, n)
	for c, xs := range all {
		if len(xs) == 0 {
			s.spread[c] = 1 // nothing is known of it
			continue
		}
		s.offset[c] = median(xs)
		for i := range xs {
			xs[i] = math.Abs(xs[i] - s.offset[c])
		}
		s.spread[c] = max(medianToSD*median(xs), leastSieve)
	}
}

// medianToSD is the standard deviation of a normal variable over the median of its distance from the mean.
const medianToSD = 1.4826

// median sorts its argument.
func median(xs []float64) float64 {
	slices.Sort(xs)
	return stat.Quantile(0.5, stat.Empirical, xs, nil)
}

// strange returns minus twice the log likelihood of a run in a gate set, but for a constant; +Inf where the model has no solution.
func (s *sieve) strange(o *observation, set *gateSet, level float64) float64 {
	logs := s.ratios(o, set, level)
	if logs == nil {
		return math.Inf(1)
	}
	sum := 0.0
	for i, c := range o.have {
		sd := s.spread[c]
		if len(set.setting.Open) == 0 {
			sd = math.Hypot(sd, shutSieve+shutFlow*softPressure/(math.Abs(o.value[i])+softPressure))
		}
		z := (logs[i] - s.offset[c]) / sd
		sum += z*z + 2*math.Log(sd)
	}
	return sum
}

// bar is by how much minus twice the log likelihood must be less with another set of gates.
func (s *sieve) bar() float64 { return 2 * math.Log(float64(len(s.e.cols.machines))/leftOpenChance) }

// other returns the machine that makes a run, with it more or less than told, so much likelier that the chance of it is outweighed; of
// several the one that makes it likeliest.
func (s *sieve) other(d, i int) int {
	o, level := &s.e.gathered[d].obs[i], s.level[d][i]
	told := s.strange(o, o.set, level)
	if math.IsInf(told, 1) {
		return nothingElse
	}
	nothing := 0.0 // as if it read what is expected
	for _, c := range o.have {
		nothing += 2 * math.Log(s.spread[c])
	}
	best, least := nothingElse, told-s.bar()
	if nothing > least {
		return nothingElse
	}
	if told-nothing > sorelyStrange*s.bar() {
		best = mixed
	}
	for m := range s.e.cols.machines {
		if set, ok := s.toggled(o, m); ok {
			if x := s.strange(o, &set, level); x < least {
				best, least = m, x
			}
		}
	}
	return best
}

// toggled returns the gate set of a run with one machine more or less than told.
func (s *sieve) toggled(o *observation, m int) (gateSet, bool) {
	set, ok := s.e.settingOf(o, toggled(o.set.machines, m))
	return set, ok && set.key != o.set.key
}
