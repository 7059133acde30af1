package whichopen

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
)

// TestStudentAgainstItsLaw: in one dimension it is the published law, scaled to its covariance.
func TestStudentAgainstItsLaw(t *testing.T) {
	sd := 0.03
	law := distuv.StudentsT{Mu: 0, Sigma: sd * math.Sqrt((tailFreedom-2)/tailFreedom), Nu: tailFreedom}
	for _, x := range []float64{0, 0.01, -0.05, 0.2} {
		assert.InDelta(t, law.LogProb(x), student(x*x/(sd*sd), 1, math.Log(sd*sd)), 1e-10, "at %v", x)
	}
}

// TestStudentIsADensity: over the plane it adds up to one.
func TestStudentIsADensity(t *testing.T) {
	sum, step := 0.0, 0.05
	for x := -12.0; x <= 12; x += step {
		for y := -12.0; y <= 12; y += step {
			sum += math.Exp(student(x*x+y*y/4, 2, math.Log(4))) * step * step
		}
	}
	assert.InDelta(t, 1, sum, 1e-3)
}

// TestOneCandidateIsTheKalmanFilter: with one candidate and a reading where it is expected to within its error, the shared
// state is that of the linear filter, worked out by hand for one channel: P = 4, S = 1, H = 1, v = 1 give a gain of 4/5.
func TestOneCandidateIsTheKalmanFilter(t *testing.T) {
	tr := New([]float64{2}, []float64{4})
	b := tr.Take(&Run{Sets: []Set{{Key: "a", Usual: 1, Mean: []float64{10}, Slope: [][]float64{{1}}, Cov: [][]float64{{0.5}}}},
		Reading: []float64{13}, Noise: []float64{0.5}})
	require.Equal(t, "a", b.Best().Key)
	p := b.Best().Probability
	// what is left is none of them, whose state stays as it was
	mean := p*(2+4.0/5) + (1-p)*2
	assert.InDelta(t, mean, tr.Mean[0], 1e-12)
	assert.InDelta(t, p*(4.0/5)+(1-p)*4+p*(1-p)*(4.0/5)*(4.0/5), tr.Cov[0][0], 1e-12)
}

// TestBayesByHand: two candidates that differ in one reading, their densities by the law, their priors by what is usual.
func TestBayesByHand(t *testing.T) {
	sd := 0.1
	law := distuv.StudentsT{Mu: 0, Sigma: sd * math.Sqrt((tailFreedom-2)/tailFreedom), Nu: tailFreedom}
	set := func(key string, mean, usual float64, machine int) Set {
		return Set{Key: key, Usual: usual, Machines: []int{machine}, Mean: []float64{mean}, Slope: [][]float64{{0}}, Cov: [][]float64{{sd * sd}}}
	}
	tr := New([]float64{0}, []float64{0})
	b := tr.Take(&Run{Sets: []Set{set("a", 0, 3, 0), set("b", 0.2, 1, 1)}, Reading: []float64{0.07}, Noise: []float64{0}})
	a := 0.99 * 3 / 4 * law.Prob(0.07)
	c := 0.99 / 4 * law.Prob(0.07-0.2)
	none := 0.01 / 3
	assert.Equal(t, "a", b.Best().Key)
	assert.InDelta(t, a/(a+c+none), b.Best().Probability, 1e-12)
	assert.InDelta(t, none/(a+c+none), b.None, 1e-12)
	sum := b.None
	for _, g := range b.Sets {
		sum += g.Probability
	}
	assert.InDelta(t, 1, sum, 1e-12)
}

// TestMixtureMoments: of two normal distributions half and half.
func TestMixtureMoments(t *testing.T) {
	m := newMoments(1)
	m.add(0.5, []float64{1}, square1(2))
	m.add(0.5, []float64{3}, square1(4))
	mean, cov := m.moments()
	assert.InDelta(t, 2, mean[0], 1e-15)
	assert.InDelta(t, 3+1, cov[0][0], 1e-15)
}
