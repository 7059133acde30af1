package estimate

import (
	"slices"

	"ductward/internal/steady"
)

// A use that nobody noted is read as another set of gates. A few such runs among those of a baseline spoil all that is ever held
// against it: a run with every gate told shut that has one open leaks a thousand m³/h as built. So each run is held against what the
// model reads in it as told, and with one machine more or one less, before the model is fitted and once more when it is. What all
// runs differ by from the drawing does not count, nor what the filter's drop does for some runs in a row.

// asTold returns, for each gathered day, its runs without those that read as with another gate open than they are told, and how
// many these are. The tuning is that of the model as it is known by now.
func (e *Estimator) asTold(t tuning) (days [][]observation, out int) {
	s := &sieve{e: e, tuning: t, reads: map[string][]float64{}}
	s.levels()
	s.usual()
	other := s.others()
	for d, g := range e.gathered {
		var kept []observation
		for i := range g.obs {
			if other[d][i] {
				out++
			} else {
				kept = append(kept, g.obs[i])
			}
		}
		days = append(days, kept)
	}
	return days, out
}

// What a run has more or less than told, where it is no machine's gate.
const (
	nothingElse = -1
	mixed       = -2 // it is far from what is told, and from that with one machine more or less
)

// others tells, by day and run, which runs read as with another gate open than told, where they were not so built: a drop that never
// reads as if it were open, or a set with a gate more open in most of its runs.
func (s *sieve) others() [][]bool {
	other := make([][]int, len(s.e.gathered)) // by run: the machine that it has more or less than told, or what else
	odd, seen, less := map[string]int{}, map[string]int{}, map[int]int{}
	s.each(func(d, i int, o *observation) {
		m := s.other(d, i)
		other[d] = append(other[d], m)
		seen[o.set.key]++
		switch {
		case m == nothingElse:
		case slices.Contains(o.set.machines, m):
			less[m]++
		default:
			odd[o.set.key]++
		}
	})
	out := make([][]bool, len(other))
	shut := map[int]bool{} // as built: its drop hardly passes any air
	for m, n := range less {
		shut[m] = n >= leastAlike && !s.everOpen(m)
	}
	s.each(func(d, i int, o *observation) {
		m, key := other[d][i], o.set.key
		built := shut[m]
		if !slices.Contains(o.set.machines, m) {
			built = seen[key] >= leastAlike && 2*odd[key] > seen[key] && o.set.kind != steady.Closed
		}
		out[d] = append(out[d], m != nothingElse && !built)
	})
	return out
}

// each goes through the runs of the gathered days.
func (s *sieve) each(f func(d, i int, o *observation)) {
	for d, g := range s.e.gathered {
		for i := range g.obs {
			f(d, i, &g.obs[i])
		}
	}
}

// everOpen tells whether any run that is told with a machine reads far more as with it than without.
func (s *sieve) everOpen(m int) bool {
	ever := false
	s.each(func(d, i int, o *observation) {
		if ever || !slices.Contains(o.set.machines, m) {
			return
		}
		if set, ok := s.toggled(o, m); ok {
			told := s.strange(o, o.set, s.level[d][i])
			ever = s.strange(o, &set, s.level[d][i])-told > s.bar()
		}
	})
	return ever
}
