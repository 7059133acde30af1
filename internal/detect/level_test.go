package detect

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The Nile's variances: Durbin and Koopman, Time Series Analysis by State Space Methods, 2nd ed., ch. 2, by maximum
// likelihood.
const (
	nileNoise = 15099.0
	nileWalk  = 1469.1
)

// nile reads the annual flow of the Nile at Aswan, 1871–1970, in 10⁸ m³.
func nile(t *testing.T) []float64 {
	file, err := os.Open("testdata/nile.csv")
	require.NoError(t, err)
	defer func() { assert.NoError(t, file.Close()) }()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 101)
	var out []float64
	for _, r := range rows[1:] {
		v, err := strconv.ParseFloat(r[1], 64)
		require.NoError(t, err)
		out = append(out, v)
	}
	return out
}

// TestLevelOnTheNile: filtered level and variance of the first three years, from a first state of mean 0 and variance
// 1e7, as computed with R 4.2.2 for the example of Durbin and Koopman, ch. 2.
func TestLevelOnTheNile(t *testing.T) {
	y := nile(t)
	l := Level{Mean: 0, Variance: 1e7, Known: true}
	for i, want := range []struct{ mean, variance float64 }{{1118.311, 15076.24}, {1140.108, 7894.56}, {1072.316, 5779.50}} {
		walk := nileWalk
		if i == 0 {
			walk = 0
		}
		l.Step(y[i], nileNoise, walk)
		assert.InDelta(t, want.mean, l.Mean, 1e-3, "level, year %d", i+1)
		assert.InDelta(t, want.variance, l.Variance, 1e-2, "variance, year %d", i+1)
	}
}

// TestLevelSettles: the variance before an observation tends to (q + √(q² + 4qr))/2, whatever is seen.
func TestLevelSettles(t *testing.T) {
	var l Level
	for _, y := range nile(t) {
		l.Step(y, nileNoise, nileWalk)
	}
	before := l.Variance + nileWalk
	assert.InEpsilon(t, (nileWalk+math.Sqrt(nileWalk*nileWalk+4*nileWalk*nileNoise))/2, before, 1e-9)
	assert.InEpsilon(t, 5501.258, before, 1e-6)
	assert.InEpsilon(t, 0.267048, before/(before+nileNoise), 1e-5, "gain")
}

// TestThePrintedVariancesAreTheLikeliest by this filter's own likelihood.
func TestThePrintedVariancesAreTheLikeliest(t *testing.T) {
	y := nile(t)
	like := func(noise, walk float64) float64 {
		var l Level
		log := 0.0
		for i, v := range y {
			if i > 0 {
				spread := l.Variance + walk + noise
				log -= (math.Log(spread) + (v-l.Mean)*(v-l.Mean)/spread) / 2
			}
			l.Step(v, noise, walk)
		}
		return log
	}
	best := like(nileNoise, nileWalk)
	for _, k := range []float64{0.9, 0.97, 1.03, 1.1} {
		assert.Less(t, like(k*nileNoise, nileWalk), best, "noise × %v", k)
		assert.Less(t, like(nileNoise, k*nileWalk), best, "walk × %v", k)
	}
}

// TestLevelWithoutObservations: doubt grows, and the first one is taken as it is.
func TestLevelWithoutObservations(t *testing.T) {
	var l Level
	l.Step(math.NaN(), 1, 5)
	assert.Equal(t, Level{}, l, "nothing known yet")
	l.Step(7, 2, 5)
	assert.Equal(t, Level{Mean: 7, Variance: 2, Known: true}, l)
	l.Step(math.NaN(), 2, 5)
	assert.Equal(t, Level{Mean: 7, Variance: 7, Known: true}, l)
	l.Step(9, math.NaN(), 5)
	l.Step(9, 0, 5)
	assert.Equal(t, Level{Mean: 7, Variance: 17, Known: true}, l, "an observation that claims no doubt is none")
}
