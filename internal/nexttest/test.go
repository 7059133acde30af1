package nexttest

import (
	"errors"
	"fmt"
	"math"
	"time"

	"gonum.org/v1/gonum/mat"
)

// Belief is what is known before a test: one weight and one group for each suspect.
type Belief struct {
	Weight []float64 // not negative, not all 0; they need not sum to 1
	Group  []int     // from 0 on; as long as Weight
}

// Test is one run that could be made. n is the number of channels, at least 1, the same for all suspects.
type Test struct {
	Mean [][]float64     // [suspect][channel]: what would be read
	Own  []*mat.SymDense // by suspect, n×n: covariance that comes with the suspect, its unknown size for one; nil: none

	Fixed      *mat.SymDense // n×n: covariance of a run however long it lasts
	Turbulence []float64     // by channel: variance of a mean over one second; over t seconds it is 1/t of that
}

// Errors of a belief or a test that is none.
var (
	errBelief = errors.New("a belief needs a weight and a group for each suspect, none negative, and one weight above 0")
	errTest   = errors.New("a test needs, for each suspect, a mean for each channel and a covariance of that size")
)

// channels returns the number of channels.
func (t *Test) channels() int { return t.Fixed.SymmetricDim() }

// check tells what is wrong with a test for a number of suspects.
func (t *Test) check(suspects int) error {
	if t.Fixed == nil || len(t.Mean) != suspects || len(t.Own) != suspects || len(t.Turbulence) != t.channels() {
		return fmt.Errorf("%w: %d suspects, %d means, %d covariances", errTest, suspects, len(t.Mean), len(t.Own))
	}
	for k, m := range t.Mean {
		if len(m) != t.channels() || t.Own[k] != nil && t.Own[k].SymmetricDim() != t.channels() {
			return fmt.Errorf("%w: suspect %d", errTest, k)
		}
		for _, x := range m {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				return fmt.Errorf("%w: suspect %d has the mean %v", errTest, k, m)
			}
		}
	}
	return nil
}

// shares returns the belief as probabilities, by suspect and by group.
func (b *Belief) shares() (suspects, groups []float64, err error) {
	total, most := 0.0, -1
	if len(b.Weight) == 0 || len(b.Group) != len(b.Weight) {
		return nil, nil, errBelief
	}
	for k, w := range b.Weight {
		if !(w >= 0) || math.IsInf(w, 1) || b.Group[k] < 0 {
			return nil, nil, errBelief
		}
		total += w
		most = max(most, b.Group[k])
	}
	if total == 0 {
		return nil, nil, errBelief
	}
	suspects, groups = make([]float64, len(b.Weight)), make([]float64, most+1)
	for k, w := range b.Weight {
		suspects[k] = w / total
		groups[b.Group[k]] += w / total
	}
	return suspects, groups, nil
}

// Entropy returns the entropy of the groups in nats: how much there is left to be told.
func (b *Belief) Entropy() (float64, error) {
	_, groups, err := b.shares()
	if err != nil {
		return math.NaN(), err
	}
	sum := 0.0
	for _, p := range groups {
		if p > 0 {
			sum -= p * math.Log(p)
		}
	}
	return max(sum, 0), nil
}

// covariance returns that of one suspect's readings in a run of length d.
func (t *Test) covariance(k int, d time.Duration) *mat.SymDense {
	n := t.channels()
	out := mat.NewSymDense(n, nil)
	out.CopySym(t.Fixed)
	if t.Own[k] != nil {
		out.AddSym(out, t.Own[k])
	}
	for c, v := range t.Turbulence {
		out.SetSym(c, c, out.At(c, c)+v/d.Seconds())
	}
	return out
}
