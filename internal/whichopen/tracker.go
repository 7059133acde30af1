package whichopen

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Set is one candidate: a set of machines whose gates are open.
type Set struct {
	Key      string
	Machines []int       // ascending
	Usual    float64     // how often it is so among all candidates, on any scale; above 0
	Mean     []float64   // by channel: log reading with the shared state at 0
	Slope    [][]float64 // [channel][state]: derivative of the log reading
	Cov      [][]float64 // [channel][channel]: of what differs from run to run or is not known of this set
}

// Run is one run to be judged. All slices by channel have the length of the candidates' Mean.
type Run struct {
	Move    Move
	Sets    []Set
	Reading []float64 // by channel: log of what was read; NaN: not read
	Noise   []float64 // by channel: variance of its error
	Missing float64   // 0..1: how much of what is usual the candidates leave out
	Drift   []float64 // by state: variance that has been added since the last run
	Jumps   []Jump    // what may have happened since, beside nothing
}

// Jump is one thing that may have happened to the shared state between two runs.
type Jump struct {
	Chance float64   // before the run was seen
	Shift  []float64 // by state
	Var    []float64 // by state: how far from Shift
}

// Guess is the probability of one set.
type Guess struct {
	Key         string
	Probability float64
}

// Belief is what is believed of one run: the candidates from the likeliest on, and none of them.
type Belief struct {
	Sets []Guess
	None float64
}

// Best returns the likeliest candidate; an empty key and 0 where there is none.
func (b Belief) Best() Guess {
	if len(b.Sets) == 0 {
		return Guess{}
	}
	return b.Sets[0]
}

// Tracker goes through the runs of one collector. It is a value: a copy may be taken ahead without harm to the
// original. Make one with New.
type Tracker struct {
	Mean []float64   // of the shared state
	Cov  [][]float64 // its covariance
	last []weighed   // the sets that the last run may have had, from the likeliest on
	none float64     // and none of them
}

// weighed is a set of the last run.
type weighed struct {
	key         string
	machines    []int
	probability float64
}

// New returns a tracker that has seen no run, with a belief about the shared state: its mean and its variances. The state
// has one part at least.
func New(mean, variance []float64) Tracker {
	t := Tracker{Mean: slices.Clone(mean), Cov: square(len(mean)), none: 1}
	for i, v := range variance {
		t.Cov[i][i] = v
	}
	return t
}

// Reset sets one part of the shared state anew: its mean and variance, uncorrelated with the others.
func (t *Tracker) Reset(state int, mean, variance float64) {
	t.Mean = slices.Clone(t.Mean)
	t.Mean[state] = mean
	cov := square(len(t.Mean))
	for i := range cov {
		copy(cov[i], t.Cov[i])
		cov[i][state] = 0
	}
	clear(cov[state])
	cov[state][state] = variance
	t.Cov = cov
}

// Shift moves one part of the shared state by what is known to have happened to it since the last run.
func (t *Tracker) Shift(state int, by float64) {
	t.Mean = slices.Clone(t.Mean)
	t.Mean[state] += by
}

// kept is below which probability a set is no longer carried on to the next run.
const kept = 1e-6

// Take judges the next run and carries the belief on. Without a reading or a candidate, nothing is learnt.
func (t *Tracker) Take(r *Run) Belief {
	have := read(r)
	if len(have) == 0 || len(r.Sets) == 0 {
		return Belief{None: 1}
	}
	prior, none := t.prior(r)
	p := t.weigh(r, have, prior, none)
	return t.carry(r, p, prior)
}

// read lists the channels that were read.
func read(r *Run) []int {
	var have []int
	for c, y := range r.Reading {
		if !math.IsNaN(y) && !math.IsInf(y, 0) {
			have = append(have, c)
		}
	}
	return have
}

// carry keeps what was found for the next run, and tells it. While nothing is moved, more runs of one set are one and
// the same evidence about it: its hood stands as it stood. What they say of the set is not counted again.
func (t *Tracker) carry(r *Run, p, prior []float64) Belief {
	n := len(r.Sets)
	b := Belief{None: p[n]}
	if r.Move == Still && len(t.last) > 0 {
		b.None = t.none
		p = prior
	}
	t.last, t.none = nil, b.None
	for i := range r.Sets {
		b.Sets = append(b.Sets, Guess{r.Sets[i].Key, p[i]})
		if p[i] > kept {
			t.last = append(t.last, weighed{r.Sets[i].Key, r.Sets[i].Machines, p[i]})
		}
	}
	slices.SortStableFunc(b.Sets, func(a, c Guess) int { return cmp.Compare(c.Probability, a.Probability) })
	slices.SortStableFunc(t.last, func(a, c weighed) int { return cmp.Compare(c.probability, a.probability) })
	return b
}

// Likely lists the sets of machines that the last run may have had, from the likeliest on, at most n.
func (t *Tracker) Likely(n int) [][]int {
	var out [][]int
	for _, w := range t.last[:min(n, len(t.last))] {
		out = append(out, w.machines)
	}
	return out
}

// square returns an n×n matrix of zeros.
func square(n int) [][]float64 {
	out := make([][]float64, n)
	flat := make([]float64, n*n)
	for i := range out {
		out[i] = flat[i*n : (i+1)*n]
	}
	return out
}

// symmetric copies the rows and columns in have of a covariance.
func symmetric(cov [][]float64, have []int) *mat.SymDense {
	out := mat.NewSymDense(len(have), nil)
	for a, i := range have {
		for b := a; b < len(have); b++ {
			out.SetSym(a, b, cov[i][have[b]])
		}
	}
	return out
}
