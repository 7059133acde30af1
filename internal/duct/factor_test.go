package duct

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// drawSystem draws a sparse matrix with a symmetric pattern and values that are not, with its dense twin.
func drawSystem(t *rapid.T, dominant bool) (*matrix, *mat.Dense) {
	n := rapid.IntRange(1, 25).Draw(t, "n")
	node := rapid.Int32Range(0, int32(n)-1)
	value := rapid.Float64Range(-1, 1)
	var edges [][2]int32
	for i := int32(1); i < int32(n); i++ { // a tree, and some chords
		edges = append(edges, [2]int32{rapid.Int32Range(0, i-1).Draw(t, "parent"), i})
	}
	for range rapid.IntRange(0, 4).Draw(t, "chords") {
		edges = append(edges, [2]int32{node.Draw(t, "a"), node.Draw(t, "b")})
	}
	order := degreeOrder(n, edges)
	rank := make([]int32, n)
	for i, node := range order {
		rank[node] = int32(i)
	}
	for i, e := range edges {
		edges[i] = [2]int32{rank[e[0]], rank[e[1]]}
	}
	m, d := newMatrix(newPattern(n, edges)), mat.NewDense(n, n, nil)
	set := func(i, j int32, v float64) {
		m.v[m.at(i, j)] += v
		d.Set(int(i), int(j), d.At(int(i), int(j))+v)
	}
	for _, e := range edges {
		if e[0] != e[1] {
			set(e[0], e[1], value.Draw(t, "v"))
			set(e[1], e[0], value.Draw(t, "v"))
		}
	}
	for i := range int32(n) {
		v := value.Draw(t, "v")
		if dominant {
			v += 2 * float64(n)
		}
		set(i, i, v)
	}
	return m, d
}

// A sparse solve is the dense solve, whatever the pattern.
func TestSparseIsDense(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, d := drawSystem(t, true)
		b := make([]float64, m.n)
		for i := range b {
			b[i] = rapid.Float64Range(-10, 10).Draw(t, "b")
		}
		want := mat.NewVecDense(m.n, nil)
		if err := want.SolveVec(d, mat.NewVecDense(m.n, append([]float64{}, b...))); err != nil {
			t.Skip("singular")
		}
		assert.True(t, m.factor())
		assert.Nil(t, m.dense)
		m.solve(b)
		for i := range b {
			assert.InDelta(t, want.AtVec(i), b[i], 1e-10)
		}
	})
}

// A symmetric matrix is solved the same when it is said to be one, whatever stands below its diagonal.
func TestEvenIsTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, _ := drawSystem(t, true)
		even := newMatrix(m.pattern)
		even.even = true
		right := m.n + len(m.next)
		copy(m.v[m.n:right], m.v[right:]) // below as right of the diagonal
		copy(even.v, m.v)
		for i := m.n; i < right; i++ {
			even.v[i] = math.NaN()
		}
		b := make([]float64, m.n)
		for i := range b {
			b[i] = rapid.Float64Range(-10, 10).Draw(t, "b")
		}
		x := slices.Clone(b)
		require.True(t, m.factor())
		require.True(t, even.factor())
		m.solve(b)
		even.solve(x)
		assert.InDeltaSlice(t, b, x, 1e-12)
	})
}

// Where a pivot vanishes, the rows are exchanged.
func TestVanishingPivot(t *testing.T) {
	m := newMatrix(newPattern(2, [][2]int32{{0, 1}}))
	fill := func() {
		clear(m.v)
		m.v[m.at(0, 1)], m.v[m.at(1, 0)], m.v[m.at(1, 1)] = 2, 3, 1 // [0 2; 3 1]
	}
	fill()
	assert.False(t, m.factor(), "not without exchange of rows")
	fill()
	assert.True(t, m.factorDense())
	b := []float64{4, 5}
	m.solve(b)
	assert.InDelta(t, 1, b[0], 1e-12)
	assert.InDelta(t, 2, b[1], 1e-12)

	clear(m.v)
	assert.False(t, m.factor(), "a matrix of nothing")
	assert.False(t, m.factorDense(), "a matrix of nothing")
}

// A tree is eliminated without fill.
func TestTreeHasNoFill(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 60).Draw(t, "n")
		var edges [][2]int32
		for i := int32(1); i < int32(n); i++ {
			edges = append(edges, [2]int32{rapid.Int32Range(0, i-1).Draw(t, "parent"), i})
		}
		order := degreeOrder(n, edges)
		rank := make([]int32, n)
		for i, node := range order {
			rank[node] = int32(i)
		}
		for i, e := range edges {
			edges[i] = [2]int32{rank[e[0]], rank[e[1]]}
		}
		assert.Len(t, newPattern(n, edges).next, n-1)
	})
}
