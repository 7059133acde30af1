package detect

import (
	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// part is what is asked of the information on many parameters: of each by itself, and of some with all.
type part struct {
	diag []float64         // of Λ
	rows map[int][]float64 // of Λ, of the parameters that may be free
	w    []float64         // Λ·p̂
}

// partOf picks the part of an information in which the given parameters may be free.
func partOf(info *mat.SymDense, w *mat.VecDense, free []int) *part {
	n := w.Len()
	p := &part{diag: make([]float64, n), rows: make(map[int][]float64, len(free)), w: make([]float64, n)}
	for j := range n {
		p.diag[j], p.w[j] = info.At(j, j), w.AtVec(j)
	}
	for _, f := range free {
		row := make([]float64, n)
		for j := range n {
			row[j] = info.At(f, j)
		}
		p.rows[f] = row
	}
	return p
}

// reducer takes what the whole record says out of what the days since an onset say: of a change there is left
//
//	Λ = B₂ - B₁(A+B)⁻¹B₁,   w = b₁ - B₁(A+B)⁻¹(a+b)
//
// With (A+B) = L·Lᵀ the product is XᵀX for X = L⁻¹B₁, of which only what is asked for is formed.
type reducer struct {
	low  blas64.Triangular // L
	all  *mat.VecDense     // (A+B)⁻¹(a+b)
	free []int
	x    blas64.General
	part part
}

func newReducer(chol *mat.Cholesky, all *mat.VecDense, free []int) *reducer {
	n := all.Len()
	var low mat.TriDense
	chol.LTo(&low)
	r := &reducer{low: low.RawTriangular(), all: all, free: free,
		x:    blas64.General{Rows: n, Cols: n, Stride: n, Data: make([]float64, n*n)},
		part: part{diag: make([]float64, n), rows: make(map[int][]float64, len(free)), w: make([]float64, n)}}
	for _, f := range free {
		r.part.rows[f] = make([]float64, n)
	}
	return r
}

// reduce leaves in r.part what the days of an accumulator say of a change, over an inflation of its variance.
func (r *reducer) reduce(a *accumulator, inflation float64) {
	n, one, two := r.x.Rows, a.one.Lambda.RawSymmetric(), a.two.RawSymmetric()
	for i := range n {
		row := r.x.Data[i*n : (i+1)*n]
		copy(row[i:], one.Data[i*one.Stride+i:i*one.Stride+n])
		for j := range i {
			row[j] = r.x.Data[j*n+i]
		}
	}
	r.weigh(a, inflation)
	blas64.Trsm(blas.Left, blas.NoTrans, 1, r.low, r.x)
	for j := range n {
		r.part.diag[j] = two.Data[j*two.Stride+j]
	}
	for _, f := range r.free {
		row := r.part.rows[f]
		for j := range n {
			row[j] = two.Data[min(f, j)*two.Stride+max(f, j)]
		}
	}
	for k := range n {
		x := r.x.Data[k*n : (k+1)*n]
		for j, v := range x {
			r.part.diag[j] -= v * v
		}
		for _, f := range r.free {
			floats.AddScaled(r.part.rows[f], -x[f], x)
		}
	}
	floats.Scale(1/inflation, r.part.diag)
	for _, f := range r.free {
		floats.Scale(1/inflation, r.part.rows[f])
	}
}

// weigh sets w; r.x must hold B₁.
func (r *reducer) weigh(a *accumulator, inflation float64) {
	w := blas64.Vector{N: len(r.part.w), Inc: 1, Data: r.part.w}
	for j := range r.part.w {
		r.part.w[j] = a.one.Eta.AtVec(j)
	}
	blas64.Gemv(blas.NoTrans, -1, r.x, r.all.RawVector(), 1, w)
	floats.Scale(1/inflation, r.part.w)
}
