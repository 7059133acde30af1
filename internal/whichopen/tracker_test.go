package whichopen

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/mat"
)

func square1(x float64) mat.Matrix { return mat.NewSymDense(1, []float64{x}) }

func TestDiffer(t *testing.T) {
	for _, c := range []struct {
		a, b []int
		n    int
	}{
		{nil, nil, 0}, {[]int{1}, nil, 1}, {[]int{1}, []int{1}, 0}, {[]int{1}, []int{2}, 2}, {[]int{1, 4}, []int{1, 2, 4}, 1}, {[]int{0, 3}, []int{1, 3}, 2},
	} {
		assert.Equal(t, c.n, differ(c.a, c.b), "%v and %v", c.a, c.b)
		assert.Equal(t, c.n, differ(c.b, c.a), "%v and %v", c.b, c.a)
	}
}

// line is a shop of three machines whose sets lie 0.2 apart in one channel, with a shared state that adds to it.
func line() []Set {
	var sets []Set
	for i, key := range []string{"a", "b", "c"} {
		sets = append(sets, Set{Key: key, Usual: 1, Machines: []int{i}, Mean: []float64{0.2 * float64(i)},
			Slope: [][]float64{{1}}, Cov: [][]float64{{0.03 * 0.03}}})
	}
	return sets
}

// TestNothingIsForced: what lies far from every set is none of them, and teaches nothing.
func TestNothingIsForced(t *testing.T) {
	tr := New([]float64{0}, []float64{0.01 * 0.01})
	before := tr
	b := tr.Take(&Run{Sets: line(), Reading: []float64{0.75}, Noise: []float64{0}})
	assert.Greater(t, b.None, 0.99)
	assert.InDelta(t, before.Mean[0], tr.Mean[0], 1e-3)
	b = tr.Take(&Run{Sets: line(), Reading: []float64{0.21}, Noise: []float64{0}})
	assert.Equal(t, "b", b.Best().Key)
	assert.Greater(t, b.Best().Probability, 0.95)
}

// TestWhatIsLeftOutIsNotGivenAway: candidates that stand for half of what is usual share half of the belief at most, where
// the readings say nothing.
func TestWhatIsLeftOutIsNotGivenAway(t *testing.T) {
	tr := New([]float64{0}, []float64{1})
	sets := line()
	for i := range sets {
		sets[i].Cov = [][]float64{{25}}
	}
	b := tr.Take(&Run{Sets: sets, Reading: []float64{0.2}, Noise: []float64{0}, Missing: 0.5})
	assert.Greater(t, b.None, 0.5)
}

// TestACutRunIsNoNewEvidence: while nobody moves anything, the probabilities stay, and the shared state goes on.
func TestACutRunIsNoNewEvidence(t *testing.T) {
	tr := New([]float64{0}, []float64{0.01 * 0.01})
	first := tr.Take(&Run{Sets: line(), Reading: []float64{0.10}, Noise: []float64{0}})
	assert.Less(t, first.Best().Probability, 0.9, "half-way between two sets")
	again := tr.Take(&Run{Move: Still, Sets: line(), Reading: []float64{0.12}, Noise: []float64{0}})
	assert.InDelta(t, first.Best().Probability, again.Best().Probability, 1e-6)
	assert.Equal(t, first.None, again.None)
}

// TestOneMoveIsLikelierThanTwo: a reading that two sets explain alike goes to the one that one move leads to.
func TestOneMoveIsLikelierThanTwo(t *testing.T) {
	pair := func(key string, mean float64, machines ...int) Set {
		return Set{Key: key, Usual: 1, Machines: machines, Mean: []float64{mean}, Slope: [][]float64{{1}}, Cov: [][]float64{{0.03 * 0.03}}}
	}
	sets := []Set{pair("a", 0, 0), pair("bc", 0.4, 1, 2), pair("ab", 0.4, 0, 1)}
	tr := New([]float64{0}, []float64{0.01 * 0.01})
	tr.Take(&Run{Sets: sets, Reading: []float64{0}, Noise: []float64{0}})
	parted := tr
	assert.Equal(t, "ab", moved(&tr, Moved, sets).Best().Key)
	b := moved(&parted, Parted, sets)
	assert.InDelta(t, b.Sets[0].Probability, b.Sets[1].Probability, 1e-9, "after a rest both are alike")
}

func moved(t *Tracker, m Move, sets []Set) Belief {
	return t.Take(&Run{Move: m, Sets: sets, Reading: []float64{0.4}, Noise: []float64{0}})
}

// TestACopyIsAhead: looking ahead with a copy changes nothing of the original.
func TestACopyIsAhead(t *testing.T) {
	tr := New([]float64{0}, []float64{0.04})
	tr.Take(&Run{Sets: line(), Reading: []float64{0.2}, Noise: []float64{0}})
	mean, cov, likely := tr.Mean[0], tr.Cov[0][0], tr.Likely(5)
	ahead := tr
	ahead.Take(&Run{Sets: line(), Reading: []float64{0.39}, Noise: []float64{0}, Drift: []float64{1}})
	ahead.Reset(0, 3, 4)
	assert.Equal(t, mean, tr.Mean[0])
	assert.Equal(t, cov, tr.Cov[0][0])
	assert.Equal(t, likely, tr.Likely(5))
}

// TestWhatWasNotReadIsLeftOut: a channel without a reading says nothing, and without any nothing is learnt.
func TestWhatWasNotReadIsLeftOut(t *testing.T) {
	two := line()
	for i := range two {
		two[i].Mean = append(two[i].Mean, 5)
		two[i].Slope = append(two[i].Slope, []float64{0})
		two[i].Cov = [][]float64{{0.03 * 0.03, 0}, {0, 1}}
	}
	a, b := New([]float64{0}, []float64{0.01}), New([]float64{0}, []float64{0.01})
	one := a.Take(&Run{Sets: line(), Reading: []float64{0.2}, Noise: []float64{0}})
	with := b.Take(&Run{Sets: two, Reading: []float64{0.2, math.NaN()}, Noise: []float64{0, 0}})
	assert.Equal(t, one, with)
	assert.Equal(t, a, b)
	nothing := b.Take(&Run{Sets: two, Reading: []float64{math.NaN(), math.NaN()}, Noise: []float64{0, 0}})
	assert.Equal(t, Belief{None: 1}, nothing)
	assert.Equal(t, a, b)
}
