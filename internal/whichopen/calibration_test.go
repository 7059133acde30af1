package whichopen

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// bench is a collector whose truth is known: machines that each bring some air, a fan that gives less pressure the more
// air there is, a filter whose drop goes with the air. What it draws is the law that the candidates state, so that the
// stated probabilities must be the frequencies.
type bench struct {
	rng  *rand.Rand
	air  []float64 // by machine, m³/s
	leak float64
	load float64 // log of the filter's resistance
}

// expect returns log suction and log filter drop of some machines, and their slopes by the filter's log resistance and by
// a leak in m³/s.
func (b *bench) expect(machines []int) (mean []float64, slope [][]float64) {
	q := 0.02
	for _, m := range machines {
		q += b.air[m]
	}
	f := math.Log1p(-q * q)
	return []float64{f, math.Log(q)}, [][]float64{{-q, -2 * q / (1 - q*q)}, {1, 1 / q}}
}

func (b *bench) sets() []Set {
	var out []Set
	add := func(usual float64, machines ...int) {
		s := Set{Usual: usual, Machines: machines, Cov: [][]float64{{1e-4, -0.25e-4}, {-0.25e-4, 2.25e-4}}}
		for _, m := range machines {
			s.Key += string(rune('a' + m))
		}
		s.Mean, s.Slope = b.expect(machines)
		out = append(out, s)
	}
	add(0.5)
	for i := range b.air {
		add(1, i)
		for j := range i {
			add(0.3, j, i)
		}
	}
	return out
}

// next draws the set that follows another, by the law of the prior.
func (b *bench) next(t *Tracker, sets []Set, at int) int {
	here := Tracker{last: []weighed{{sets[at].Key, sets[at].Machines, 1}}}
	p, none := here.prior(&Run{Sets: sets})
	x := b.rng.Float64() * (1 - none)
	for i := range p {
		if x -= p[i]; x < 0 {
			return i
		}
	}
	return len(p) - 1
}

// read draws the readings of a set.
func (b *bench) read(s *Set) []float64 {
	a, c := b.rng.NormFloat64(), b.rng.NormFloat64()
	e := []float64{0.01 * a, 0.015 * (-a/6 + math.Sqrt(1-1.0/36)*c)}
	out := make([]float64, 2)
	for i := range out {
		out[i] = s.Mean[i] + s.Slope[i][0]*b.load + s.Slope[i][1]*b.leak + e[i]
	}
	return out
}

// TestStatedProbabilitiesAreFrequencies, through loading, cleanings and leaks that open.
func TestStatedProbabilitiesAreFrequencies(t *testing.T) {
	const seed = 41
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	var stated, right [11]float64
	var sure, sureRight, wrongSure, runs float64
	for range 14 {
		b := &bench{rng: rng}
		for range 6 {
			b.air = append(b.air, 0.15+0.3*rng.Float64())
		}
		sets := b.sets()
		tr := New([]float64{0, 0}, []float64{1e-4, 1e-8})
		at := 0
		jumps := []Jump{{Chance: 0.02, Shift: []float64{-0.4, 0}, Var: []float64{0.01, 0}}, {Chance: 0.01, Shift: []float64{0, 0.03}, Var: []float64{0, 1e-4}}}
		for range 60 {
			at = b.next(&tr, sets, at)
			b.load += 0.003 * rng.NormFloat64()
			switch x := rng.Float64(); {
			case x < 0.02:
				b.load += -0.4 + 0.1*rng.NormFloat64()
			case x < 0.03:
				b.leak += 0.03 + 0.01*rng.NormFloat64()
			}
			belief := tr.Take(&Run{Sets: sets, Reading: b.read(&sets[at]), Noise: []float64{0, 0}, Drift: []float64{9e-6, 1e-8}, Jumps: jumps})
			g := belief.Best()
			k := int(g.Probability * 10)
			stated[k] += g.Probability
			hit := 0.0
			if g.Key == sets[at].Key {
				hit = 1
			}
			right[k] += hit
			runs++
			if g.Probability >= 0.95 {
				sure++
				sureRight += hit
				wrongSure += 1 - hit
			}
		}
	}
	for k := range stated {
		if n := stated[k]; n > 0 {
			assert.InDelta(t, n, right[k], 3.5*math.Sqrt(n)+0.05*n, "stated %d %% to %d %%", 10*k, 10*k+10)
		}
	}
	t.Logf("%.0f of %.0f runs sure, %.4f of them right", sure, runs, sureRight/sure)
	assert.Greater(t, sure/runs, 0.4)
	assert.Greater(t, sureRight/sure, 0.95)
	assert.Less(t, wrongSure/runs, 0.01)
}

func BenchmarkTake(b *testing.B) {
	s := &bench{rng: rand.New(rand.NewPCG(1, 1))}
	for i := range 12 {
		s.air = append(s.air, 0.1+0.02*float64(i))
	}
	sets := s.sets()
	tr := New([]float64{0, 0}, []float64{1e-4, 1e-8})
	r := &Run{Sets: sets, Reading: s.read(&sets[3]), Noise: []float64{0, 0}, Jumps: []Jump{{Chance: 0.01, Shift: []float64{-0.4, 0}, Var: []float64{0.01, 0}}}}
	for b.Loop() {
		ahead := tr
		ahead.Take(r)
	}
	b.ReportMetric(float64(len(sets)), "sets")
}
