package bound

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// Space is the information of a record on the changes of a response: what each does to the readings, in directions whose
// noise is 1 and independent.
type Space struct {
	Changes []Change
	a       [][]float64   // by change: for a size of 1
	built   [][][]float64 // by change: how otherwise it may be, for a size of 1
	scale   float64       // of all flows, relative
}

// Space reduces a record to what it says of changes that take a course.
func (rec *Record) Space(course []float64) (*Space, error) {
	info, err := rec.Reduce(course)
	if err != nil {
		return nil, err
	}
	r := rec.r
	low := halves(info)
	rank := 0
	for _, row := range low {
		rank = max(rank, len(row))
	}
	s := &Space{Changes: r.Changes, scale: r.Noise.scale(r.Channels)}
	for k := range r.Changes {
		s.a = append(s.a, r.seenAs(low, rank, func(set *Set, c int) float64 { return set.By[c][k] }))
		var ways [][]float64
		for m := range r.Sets[0].Otherwise {
			ways = append(ways, r.seenAs(low, rank, func(set *Set, c int) float64 { return set.Otherwise[m][c][k] }))
		}
		s.built = append(s.built, ways)
	}
	return s, nil
}

// seenAs returns Lᵀ·δ for a change of each set's channels.
func (r *Response) seenAs(low [][]float64, rank int, delta func(s *Set, channel int) float64) []float64 {
	out := make([]float64, rank)
	n := len(r.Channels)
	for i, row := range low {
		x := delta(&r.Sets[i/n], i%n)
		if x == 0 {
			continue
		}
		floats.AddScaled(out[:len(row)], x, row)
	}
	return out
}

// Wander returns the space in which changes may have come about besides, each with a standard deviation; of 0: not.
func (s *Space) Wander(sd func(Change) float64) (*Space, error) {
	rank := 0
	if len(s.a) > 0 {
		rank = len(s.a[0])
	}
	cov := mat.NewSymDense(rank, nil)
	for i := range rank {
		cov.SetSym(i, i, 1)
	}
	free := false
	for k, ch := range s.Changes {
		if x := sd(ch); x > 0 {
			free = true
			cov.SymRankOne(cov, x*x, mat.NewVecDense(rank, s.a[k]))
		}
	}
	if !free || rank == 0 {
		return s, nil
	}
	var chol mat.Cholesky
	if !chol.Factorize(cov) {
		return nil, errInfinite
	}
	var low mat.TriDense
	chol.LTo(&low)
	out := &Space{Changes: s.Changes, scale: s.scale}
	turn := func(x []float64) []float64 {
		y := make([]float64, rank)
		raw := low.RawTriangular()
		for i := range y {
			row := raw.Data[i*raw.Stride : i*raw.Stride+i]
			y[i] = (x[i] - dot(row, y)) / raw.Data[i*raw.Stride+i]
		}
		return y
	}
	for k := range s.a {
		out.a = append(out.a, turn(s.a[k]))
		var ways [][]float64
		for _, w := range s.built[k] {
			ways = append(ways, turn(w))
		}
		out.built = append(out.built, ways)
	}
	return out, nil
}

// SD returns the standard error of the size of a change that is alone, of about the given size: +Inf where nothing is said
// of it.
func (s *Space) SD(change int, size float64) float64 {
	w := newWays(s, change)
	i := w.information(size)
	if !(i > 0) {
		return math.Inf(1)
	}
	return math.Hypot(1/math.Sqrt(i), s.scale*size)
}
