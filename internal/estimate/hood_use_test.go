package estimate

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// TestTheLastVariancesAreThoseOfTheInverse, for matrices drawn with seed 1.
func TestTheLastVariancesAreThoseOfTheInverse(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 0))
	for _, n := range []int{1, 2, 7, 20} {
		root := mat.NewDense(n, n, nil)
		for i := range n {
			for j := range n {
				root.Set(i, j, r.NormFloat64())
			}
		}
		var info mat.SymDense
		info.SymOuterK(1, root)
		for i := range n {
			info.SetSym(i, i, info.At(i, i)+1)
		}
		var chol mat.Cholesky
		require.True(t, chol.Factorize(&info))
		var inverse mat.SymDense
		require.NoError(t, chol.InverseTo(&inverse))
		for k := range n + 1 {
			got := lastVariances(&chol, k)
			require.Len(t, got, k)
			for u, v := range got {
				i := n - k + u
				assert.InEpsilon(t, inverse.At(i, i), v, 1e-9, "%d of %d", i, n)
			}
		}
	}
}

// TestAWitnessIsFreedOfWhatWasBelieved: a deviation that was found together with a belief tells what it would have without it,
// whatever that belief was (a normal prior's posterior, worked out by hand: seen 0.02 with the error 0.01).
func TestAWitnessIsFreedOfWhatWasBelieved(t *testing.T) {
	const seen, noise = 0.02, 0.01
	alone := newHoods(1, hoodPrior, hoodLeast)
	alone.add(0, seen, noise*noise, 0.5)
	for _, prior := range []float64{0.005, 0.02, 0.3} {
		variance := 1 / (1/(noise*noise) + 1/(prior*prior))
		h := newHoods(1, hoodPrior, hoodLeast)
		h.addFound(0, seen*variance/(noise*noise), variance, prior*prior, stirTold, 0.5)
		assert.InEpsilon(t, alone.sd(0), h.sd(0), 1e-9, "believed %g", prior)
	}
}
