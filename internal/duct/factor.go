package duct

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// matrix is a sparse matrix on a pattern, and its factors once it has been eliminated.
type matrix struct {
	*pattern
	v     []float64 // as pattern says; one place more, for what is not kept
	keep  []float64 // the diagonal before the elimination; its inverse behind it
	even  bool      // it is symmetric: what stands below the diagonal before the elimination is what stands right of it
	dense *mat.LU   // set when the elimination without exchange of rows was not safe
}

func newMatrix(p *pattern) *matrix {
	return &matrix{pattern: p, v: make([]float64, p.len()+1), keep: make([]float64, p.n)}
}

// safePivot is the least a pivot may be of what its diagonal was: below it more than half of the 16 digits are gone
// and the elimination is done again with exchange of rows.
const safePivot = 1e-9

// factor eliminates in place, without exchange of rows: the matrix of a network is dominated by its diagonal unless a
// wye or a humped fan turns it. It tells whether that was safe; where a pivot vanishes it is not, and what is left of
// the matrix is of no use.
func (m *matrix) factor() bool {
	n := m.n
	copy(m.keep, m.v[:n])
	m.dense = nil
	below := m.v[n : n+len(m.next)]
	right := m.v[n+len(m.next):][:len(m.next)]
	mirror := below
	if m.even { // each is what its mirror image is, and only that is kept up to date
		mirror = right
	}
	t := 0
	for k := range n {
		pivot := m.v[k]
		if !(abs(pivot) > safePivot*abs(m.keep[k])) || math.IsInf(pivot, 0) {
			return false
		}
		turn := 1 / pivot
		m.keep[k] = turn
		from, to := m.start[k], m.start[k+1]
		for i := from; i < to; i++ {
			l := mirror[i] * turn
			below[i] = l
			j := from
			if m.even {
				t += int(i - from)
				j = i
			}
			for ; j < to; j++ {
				m.v[m.into[t]] -= l * right[j]
				t++
			}
		}
	}
	return true
}

// factorDense eliminates a matrix, just filled, with exchange of rows. It tells whether it can be solved with at all.
func (m *matrix) factorDense() bool {
	d := mat.NewDense(m.n, m.n, nil)
	right := len(m.next)
	for i := range m.n {
		d.Set(i, i, m.v[i])
		for k := m.start[i]; k < m.start[i+1]; k++ {
			j := int(m.next[k])
			d.Set(j, i, m.v[m.n+int(k)])
			d.Set(i, j, m.v[m.n+right+int(k)])
		}
	}
	for _, v := range d.RawMatrix().Data {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	var lu mat.LU
	lu.Factorize(d)
	m.dense = &lu
	return !math.IsInf(lu.Cond(), 1)
}

// solve replaces b by the solution of m·x = b.
func (m *matrix) solve(b []float64) {
	if m.dense != nil {
		x := mat.NewVecDense(m.n, b)
		if err := m.dense.SolveVecTo(x, false, x); err != nil {
			// A condition error still gives the best solution there is; the step is judged by what it does.
			return
		}
		return
	}
	below := m.v[m.n : m.n+len(m.next)]
	right := m.v[m.n+len(m.next):][:len(m.next)]
	for k := range m.n {
		y := b[k]
		for i := m.start[k]; i < m.start[k+1]; i++ {
			b[m.next[i]] -= below[i] * y
		}
	}
	for k := m.n - 1; k >= 0; k-- {
		y := b[k]
		for i := m.start[k]; i < m.start[k+1]; i++ {
			y -= right[i] * b[m.next[i]]
		}
		b[k] = y * m.keep[k]
	}
}
