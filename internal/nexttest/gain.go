package nexttest

import (
	"fmt"
	"math"
	"time"

	"gonum.org/v1/gonum/mat"
)

// Outcome is what a test should bring.
type Outcome struct {
	Gain      float64 // nats by which the entropy of the groups should fall
	Likeliest float64 // the probability that the likeliest group should have afterwards
}

// normal is one suspect's readings: a normal distribution, with the inverse of its covariance's lower Cholesky factor.
type normal struct {
	mean    []float64
	lower   [][]float64 // Cholesky factor of the covariance
	inverse [][]float64 // and its inverse, lower as well
	log     float64     // of the density's factor, up to powers of 2π
}

func newNormal(mean []float64, cov *mat.SymDense) (normal, error) {
	var chol mat.Cholesky
	if !chol.Factorize(cov) {
		return normal{}, fmt.Errorf("%w: a covariance is not positive definite", errTest)
	}
	var low, inv mat.TriDense
	chol.LTo(&low)
	if err := inv.InverseTri(&low); err != nil {
		return normal{}, fmt.Errorf("%w: %w", errTest, err)
	}
	n := len(mean)
	out := normal{mean: mean, lower: make([][]float64, n), inverse: make([][]float64, n)}
	for i := range n {
		for j := range i + 1 {
			out.lower[i] = append(out.lower[i], low.At(i, j))
			out.inverse[i] = append(out.inverse[i], inv.At(i, j))
		}
		out.log -= math.Log(low.At(i, i))
	}
	return out, nil
}

// at takes a point of the standard normal distribution to one of this one.
func (p *normal) at(z, y []float64) {
	for i, row := range p.lower {
		y[i] = p.mean[i]
		for j, l := range row {
			y[i] += l * z[j]
		}
	}
}

// density returns the log of the density, up to powers of 2π.
func (p *normal) density(y []float64) float64 {
	chi := 0.0
	for _, row := range p.inverse {
		w := 0.0
		for j, x := range row {
			w += x * (y[j] - p.mean[j])
		}
		chi += w * w
	}
	return p.log - chi/2
}

// Expect returns what a run of length d should bring. It is an error where belief and test do not fit together or a
// covariance is none.
func Expect(b Belief, t *Test, d time.Duration) (Outcome, error) { return expect(b, t, d, points) }

// expect is Expect with a number of points of the lattice for each suspect.
func expect(b Belief, t *Test, d time.Duration, points int) (Outcome, error) {
	weight, before, err := b.shares()
	if err != nil {
		return Outcome{}, err
	}
	if err := t.check(len(weight)); err != nil {
		return Outcome{}, err
	}
	if d <= 0 {
		return Outcome{}, fmt.Errorf("a run of %v is none", d)
	}
	law := make([]normal, len(weight))
	for k := range weight {
		if law[k], err = newNormal(t.Mean[k], t.covariance(k, d)); err != nil {
			return Outcome{}, err
		}
	}
	z := lattice(t.channels(), points)
	f := fold{group: b.Group, before: before, law: law, after: make([]float64, len(before)), log: make([]float64, len(weight))}
	for k, w := range weight {
		f.law[k].log += math.Log(w) // of a suspect that is none, -∞
	}
	var out Outcome
	y := make([]float64, t.channels())
	for k, w := range weight {
		if w == 0 {
			continue
		}
		for _, p := range z {
			law[k].at(p, y)
			told, top := f.read(y)
			out.Gain += w / float64(len(z)) * told
			out.Likeliest += w / float64(len(z)) * top
		}
	}
	return out, nil
}

// fold turns a reading into a belief about the groups.
type fold struct {
	group      []int
	before     []float64
	law        []normal  // their densities times the suspects' probabilities
	after, log []float64 // room to work in
}

// read returns how far the belief after a reading differs from that before, in nats, and its largest probability.
func (f *fold) read(y []float64) (told, top float64) {
	most := math.Inf(-1)
	for k := range f.law {
		f.log[k] = f.law[k].density(y)
		most = max(most, f.log[k])
	}
	clear(f.after)
	total := 0.0
	for k, l := range f.log {
		x := math.Exp(l - most)
		f.after[f.group[k]] += x
		total += x
	}
	for g, x := range f.after {
		p := x / total
		top = max(top, p)
		if p > 0 {
			told += p * math.Log(p/f.before[g])
		}
	}
	return max(told, 0), top // below 0 only by rounding
}
