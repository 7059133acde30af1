package estimate

import (
	"slices"
	"sort"

	"gonum.org/v1/gonum/mat"

	"ductward/internal/nexttest"
)

// belief returns the suspects of a change: its likeliest columns, with what stands for one place in one group.
func (e *Estimator) belief(c *change) (nexttest.Belief, []int) {
	var cols []int
	for j, m := range c.mass {
		if m >= suspectMass {
			cols = append(cols, j)
		}
	}
	sort.SliceStable(cols, func(a, b int) bool { return c.mass[cols[a]] > c.mass[cols[b]] })
	cols = cols[:min(len(cols), mostParts)]
	var b nexttest.Belief
	var names []string
	for _, j := range cols {
		name := e.placeOf(j)
		at := slices.Index(names, name)
		if at < 0 {
			at = len(names)
			names = append(names, name)
		}
		b.Weight, b.Group = append(b.Weight, c.mass[j]), append(b.Group, at)
	}
	return b, cols
}

// placeOf names the place of a column: its part, but that a machine's open side and its drop's loss are one, since no
// pressure can part them.
func (e *Estimator) placeOf(col int) string {
	if e.cols.kind(col) == blockChange {
		return "open-side:" + e.cols.machines[col-e.cols.block0]
	}
	return e.cols.part(col)
}

// surest returns the probability of the likeliest place, of all that are suspects.
func surest(b nexttest.Belief) float64 {
	sums := make([]float64, len(b.Weight))
	total, most := 0.0, 0.0
	for k, w := range b.Weight {
		sums[b.Group[k]] += w
		total += w
		most = max(most, sums[b.Group[k]])
	}
	return most / total
}

// doubtOf returns the covariance of what a further run on a day would share with its runs so far: the log resistance of the
// filter's last part, density, speed and each channel's day error, all else integrated out.
func (s *system) doubtOf(chol *mat.Cholesky) *mat.SymDense {
	p := s.e.cols.changes
	at := []int{p + s.n.parts - 1, p + s.n.density(), p + s.n.speed()}
	for c := range s.n.channels {
		at = append(at, p+s.n.day(c))
	}
	out := mat.NewSymDense(len(at), nil)
	unit, column := mat.NewVecDense(s.rhs.Len(), nil), mat.NewVecDense(s.rhs.Len(), nil)
	for i, a := range at {
		unit.Zero()
		unit.SetVec(a, 1)
		_ = chol.SolveVecTo(column, unit) // positive definite by its priors
		for j := i; j < len(at); j++ {
			out.SetSym(i, j, column.AtVec(at[j]))
		}
	}
	return out
}
