package nexttest

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// diagonal is a covariance without correlation.
func diagonal(variance ...float64) *mat.SymDense {
	s := mat.NewSymDense(len(variance), nil)
	for i, v := range variance {
		s.SetSym(i, i, v)
	}
	return s
}

// apart is a belief in which each suspect is a group of its own.
func apart(weight ...float64) Belief {
	b := Belief{Weight: weight}
	for k := range weight {
		b.Group = append(b.Group, k)
	}
	return b
}

// single is a test with one channel without turbulence: its suspects' means, their own variances, the noise's variance.
func single(mean, own []float64, noise float64) *Test {
	t := &Test{Fixed: diagonal(noise), Turbulence: []float64{0}}
	for k := range mean {
		t.Mean = append(t.Mean, []float64{mean[k]})
		t.Own = append(t.Own, diagonal(own[k]))
	}
	return t
}

// integrated is the mutual information of suspect and reading over one channel by the trapezoid rule on a fine grid.
func integrated(weight, mean, variance []float64) (gain, likeliest float64) {
	const steps = 40000
	low, high := math.Inf(1), math.Inf(-1)
	for k := range mean {
		low, high = math.Min(low, mean[k]-12*math.Sqrt(variance[k])), math.Max(high, mean[k]+12*math.Sqrt(variance[k]))
	}
	dy := (high - low) / steps
	for i := range steps + 1 {
		y := low + float64(i)*dy
		all := 0.0
		f := make([]float64, len(mean))
		for k := range mean {
			f[k] = math.Exp(-(y-mean[k])*(y-mean[k])/(2*variance[k])) / math.Sqrt(2*math.Pi*variance[k])
			all += weight[k] * f[k]
		}
		top := 0.0
		for k := range mean {
			top = math.Max(top, weight[k]*f[k])
			if f[k] > 0 {
				gain += weight[k] * f[k] * math.Log(f[k]/all) * dy
			}
		}
		likeliest += top * dy
	}
	return gain, likeliest
}

const minute = time.Minute

// TestGainAgainstQuadrature: one channel, where the integral over the reading can be taken directly.
func TestGainAgainstQuadrature(t *testing.T) {
	for _, c := range []struct {
		name                   string
		weight, mean, variance []float64
	}{
		{"two alike, a standard deviation apart", []float64{0.5, 0.5}, []float64{0, 1}, []float64{1, 1}},
		{"two, far apart", []float64{0.5, 0.5}, []float64{0, 6}, []float64{1, 1}},
		{"two, hardly apart", []float64{0.5, 0.5}, []float64{0, 0.1}, []float64{1, 1}},
		{"unlike in weight", []float64{0.9, 0.1}, []float64{0, 2}, []float64{1, 1}},
		{"told by their scatter alone", []float64{0.5, 0.5}, []float64{0, 0}, []float64{1, 25}},
		{"three", []float64{0.5, 0.3, 0.2}, []float64{0, 1, 3}, []float64{1, 0.5, 2}},
		{"one of them nearly sure", []float64{0.98, 0.02}, []float64{0, 3}, []float64{1, 1}},
	} {
		t.Run(c.name, func(t *testing.T) {
			own := make([]float64, len(c.variance))
			for k, v := range c.variance {
				own[k] = v - 0.25
			}
			got, err := Expect(apart(c.weight...), single(c.mean, own, 0.25), minute)
			require.NoError(t, err)
			gain, likeliest := integrated(c.weight, c.mean, c.variance)
			assert.InDelta(t, gain, got.Gain, 0.006, "nats")
			assert.InDelta(t, likeliest, got.Likeliest, 0.006)
		})
	}
}

// TestGainBetweenItsLimits: far apart a test tells all there is, the entropy of the groups (Shannon 1948); close together
// the gain of two is w₁·w₂·δ²/2 with the distance δ in standard deviations, the second order of the divergence (Kullback,
// Information Theory and Statistics, 1959, ch. 2, from memory).
func TestGainBetweenItsLimits(t *testing.T) {
	b := apart(0.2, 0.5, 0.3)
	all, err := b.Entropy()
	require.NoError(t, err)
	assert.InDelta(t, -0.2*math.Log(0.2)-0.5*math.Log(0.5)-0.3*math.Log(0.3), all, 1e-12)
	far, err := Expect(b, single([]float64{0, 100, 300}, []float64{1, 1, 1}, 1), minute)
	require.NoError(t, err)
	assert.InDelta(t, all, far.Gain, 1e-9)
	assert.InDelta(t, 1, far.Likeliest, 1e-9)

	near, err := Expect(apart(0.7, 0.3), single([]float64{0, 0.05}, []float64{0.5, 0.5}, 0.5), minute)
	require.NoError(t, err)
	assert.InEpsilon(t, 0.7*0.3*0.05*0.05/2, near.Gain, 0.03)
}

// TestAUselessTestHasNoGain: where all suspects read alike, where only members of one group differ, where nothing is open.
func TestAUselessTestHasNoGain(t *testing.T) {
	same, err := Expect(apart(0.4, 0.6), single([]float64{3, 3}, []float64{2, 2}, 1), minute)
	require.NoError(t, err)
	assert.InDelta(t, 0, same.Gain, 1e-12)
	assert.InDelta(t, 0.6, same.Likeliest, 1e-12, "as before")

	group, err := Expect(Belief{Weight: []float64{0.4, 0.6}, Group: []int{0, 0}}, single([]float64{0, 9}, []float64{1, 1}, 1), minute)
	require.NoError(t, err)
	assert.InDelta(t, 0, group.Gain, 1e-12, "nobody asks which of them it is")

	sure, err := Expect(apart(1, 0), single([]float64{0, 9}, []float64{1, 1}, 1), minute)
	require.NoError(t, err)
	assert.InDelta(t, 0, sure.Gain, 1e-12, "it is known already")
}

// TestTwoChannelsAgainstOne: of two channels with a common error only their difference tells, as one channel with the
// difference's variance would.
func TestTwoChannelsAgainstOne(t *testing.T) {
	const common, own, d = 1e4, 0.5, 1.3
	two := &Test{Mean: [][]float64{{0, 0}, {d, 0}}, Own: []*mat.SymDense{nil, nil},
		Fixed: mat.NewSymDense(2, []float64{common + own, common, common, common + own}), Turbulence: []float64{0, 0}}
	got, err := Expect(apart(0.5, 0.5), two, minute)
	require.NoError(t, err)
	gain, _ := integrated([]float64{0.5, 0.5}, []float64{0, d}, []float64{2 * own, 2 * own})
	assert.InDelta(t, gain, got.Gain, 0.006, "nats")
}

// TestWhatIsNoBeliefAndNoTest is told, and what is wrong with it.
func TestWhatIsNoBeliefAndNoTest(t *testing.T) {
	ok := single([]float64{0, 1}, []float64{1, 1}, 1)
	for name, b := range map[string]Belief{"empty": {}, "negative": apart(1, -1), "nothing": apart(0, 0), "no number": apart(1, math.NaN()),
		"no group": {Weight: []float64{1, 1}, Group: []int{0}}, "negative group": {Weight: []float64{1, 1}, Group: []int{0, -1}}} {
		_, err := Expect(b, ok, minute)
		assert.ErrorIs(t, err, errBelief, name)
		_, err = b.Entropy()
		assert.ErrorIs(t, err, errBelief, name)
	}
	_, err := Expect(apart(1, 1, 1), ok, minute)
	assert.ErrorIs(t, err, errTest, "two suspects, three weights")
	_, err = Expect(apart(1, 1), single([]float64{0, math.NaN()}, []float64{1, 1}, 1), minute)
	assert.ErrorIs(t, err, errTest)
	_, err = Expect(apart(1, 1), single([]float64{0, 1}, []float64{-2, 1}, 1), minute)
	assert.ErrorIs(t, err, errTest, "no covariance")
	_, err = Expect(apart(1, 1), ok, 0)
	assert.ErrorContains(t, err, "a run of 0s is none")
}
