package bound

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"ductward/internal/detect"
)

// plainSpace is a space of changes that show as they are told, with nothing otherwise.
func plainSpace(changes []Change, a ...[]float64) *Space {
	return &Space{Changes: changes, a: a, built: make([][][]float64, len(a))}
}

var threeLeaks = []Change{{Leak, "run:one", Trunk}, {Leak, "run:two", Trunk}, {Leak, "drop:saw", "saw"}}

// TestPlacesThatLookAlike: two leaks that do the same are each named half the time, and never stated surely; one that looks
// like nothing else is.
func TestPlacesThatLookAlike(t *testing.T) {
	const draws = 4000 // seed 1
	s := plainSpace(threeLeaks, []float64{9, 0}, []float64{9, 0}, []float64{0, 9})
	prior := Prior{Share: [5]float64{1}, Size: [5]float64{1, 1, 1, 1, 1}}
	p := s.Places([]int{0, 1}, 1, prior, draws, 1)
	assert.Zero(t, p.Sure)
	assert.Equal(t, 1.0, p.First, "as probable as any other")
	assert.Equal(t, 1.0, p.FirstTwo)
	assert.InDelta(t, 1, p.Branch, 1e-3)
	assert.InDelta(t, 1, p.BranchSure, 0.01)
	alone := s.Places([]int{2}, 1, prior, draws, 1)
	assert.InDelta(t, 1, alone.Sure, 0.01)
	// at an angle of 60°, with as much room for either, the nearer one wins: its distance is that of the bisector
	s = plainSpace(threeLeaks[:2], []float64{3, 0}, []float64{1.5, 1.5 * math.Sqrt(3)})
	p = s.Places([]int{0}, 1, Prior{Share: [5]float64{1}, Size: [5]float64{100, 1, 1, 1, 1}}, draws, 1)
	want := 1 - 0.5*math.Erfc(3*math.Sin(math.Pi/6)/math.Sqrt2)
	assert.InDelta(t, want, p.First, 4*math.Sqrt(want*(1-want)/draws)+0.01, "a leak of either cannot be negative, which takes a little")
	assert.Equal(t, p, s.Places([]int{0}, 1, Prior{Share: [5]float64{1}, Size: [5]float64{100, 1, 1, 1, 1}}, draws, 1), "one seed, one answer")
}

// TestSurelyIsLessOftenThanFirst: whatever is told surely is the most probable too, and one of the first two.
func TestSurelyIsLessOftenThanFirst(t *testing.T) {
	s := plainSpace(threeLeaks, []float64{4, 0, 1}, []float64{3.6, 1, 0}, []float64{3, 0, 2})
	p := s.Places([]int{0, 1, 2}, 1, Prior{Share: [5]float64{1}, Size: [5]float64{1, 1, 1, 1, 1}}, 3000, 7)
	assert.LessOrEqual(t, p.Sure, p.First)
	assert.LessOrEqual(t, p.First, p.FirstTwo)
	assert.LessOrEqual(t, p.BranchSure, p.Branch)
	assert.Greater(t, p.First, 0.5)
	assert.Less(t, p.First, 1.0)
}

// TestAnUncertainDrawingTellsLess: what a change may look like besides makes its place less sure.
func TestAnUncertainDrawingTellsLess(t *testing.T) {
	exact := plainSpace(threeLeaks, []float64{6, 0}, []float64{6, 4}, []float64{0, 6})
	loose := plainSpace(threeLeaks, exact.a...)
	for k := range loose.a {
		loose.built[k] = [][]float64{{0, 2}}
	}
	prior := Prior{Share: [5]float64{1}, Size: [5]float64{1, 1, 1, 1, 1}}
	assert.Greater(t, exact.Places([]int{0, 1}, 1, prior, 600, 3).First, loose.Places([]int{0, 1}, 1, prior, 600, 3).First+0.1)
}

// TestALeakOrABlockedDrop: a torn hose and its drop's loss look alike, so the group is stated and not one of them; a leak
// before the gate looks otherwise.
func TestALeakOrABlockedDrop(t *testing.T) {
	changes := []Change{{Leak, "drop:saw", "saw"}, {Leak, "open-side:saw", "saw"}, {Block, "saw", "saw"}}
	s := plainSpace(changes, []float64{9, 3}, []float64{0, 9}, []float64{0, -9})
	prior := Prior{Share: [5]float64{0.5, 0.5}, Size: [5]float64{1, 1, 1, 1, 1}}
	assert.InDelta(t, 1, s.Places([]int{0}, 1, prior, 300, 1).Kind, 0.02)
	assert.InDelta(t, 1, s.Places([]int{2}, 1, prior, 300, 1).Kind, 0.02, "a looser drop is a loss that fell, or a torn hose")
	assert.Zero(t, s.Places([]int{2}, 1, prior, 300, 1).BranchSure)
}

func TestNothingToDraw(t *testing.T) {
	s := plainSpace(threeLeaks, []float64{1}, []float64{1}, []float64{1})
	require.Zero(t, s.Places(nil, 1, UsualPrior(), 10, 1))
}

// TestWaysAgainstTheWholeMatrix: what is worked out in the principal directions of how otherwise a change may show is what
// the covariance written out gives: information, power at the best contrast, and evidence.
func TestWaysAgainstTheWholeMatrix(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	const n, size, threshold = 6, 0.7, 2.5
	row := func(k float64) []float64 {
		out := make([]float64, n)
		for i := range out {
			out[i] = k * rng.NormFloat64()
		}
		return out
	}
	s := plainSpace(threeLeaks[:1], row(4))
	s.built[0] = [][]float64{row(1), row(1), row(1)}
	cov := mat.NewSymDense(n, nil)
	for i := range n {
		cov.SetSym(i, i, 1)
	}
	for _, d := range s.built[0] {
		cov.SymRankOne(cov, size*size, mat.NewVecDense(n, d))
	}
	var inverse mat.Dense
	require.NoError(t, inverse.Inverse(cov))
	a := mat.NewVecDense(n, s.a[0])
	var w mat.VecDense
	w.MulVec(&inverse, a)
	w.ScaleVec(1/w.Norm(2), &w)
	assert.InEpsilon(t, mat.Inner(a, &inverse, a), newWays(s, 0).information(size), 1e-9)
	z := (size*mat.Dot(&w, a) - threshold) / math.Sqrt(mat.Inner(&w, cov, &w))
	assert.InEpsilon(t, distuv.UnitNormal.CDF(z), s.Power(0, size, threshold), 1e-9)

	y := row(3)
	prior := Prior{Share: [5]float64{1}, Size: [5]float64{2}}
	x := dot(y, s.a[0]) / (dot(s.a[0], s.a[0]) + 1/4.0)
	whole := mat.NewSymDense(n, nil)
	for i := range n {
		whole.SetSym(i, i, 1)
	}
	for _, d := range s.built[0] {
		whole.SymRankOne(whole, x*x, mat.NewVecDense(n, d))
	}
	require.NoError(t, inverse.Inverse(whole))
	at := mat.NewVecDense(n, y)
	want := (dot(y, y)-mat.Inner(at, &inverse, at))/2 - math.Log(mat.Det(whole))/2 +
		detect.Evidence(mat.Inner(at, &inverse, a), mat.Inner(a, &inverse, a), 2, 1)
	require.Positive(t, x, "the draw must show a leak")
	assert.InDelta(t, want, newJudge(s, prior).evidence(0, y), 1e-9)
}
