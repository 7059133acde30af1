package estimate

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"ductward/internal/steady"
)

// TestHoodsAreLearnt: from deviations drawn with a known scatter and seen through noise, the scatter comes back, for the
// shop as a whole and for a machine that is unlike the others. Seeds 1 to 3.
func TestHoodsAreLearnt(t *testing.T) {
	for _, c := range []struct{ shop, odd, noise float64 }{{0.03, 0.03, 0.02}, {0.10, 0.10, 0.03}, {0.03, 0.15, 0.02}} {
		for seed := range uint64(3) {
			r := rand.New(rand.NewPCG(seed+1, 0))
			h := newHoods(4, hoodPrior, hoodLeast)
			for range 120 {
				for m := range 4 {
					sd := c.shop
					if m == 3 {
						sd = c.odd
					}
					h.add(m, sd*r.NormFloat64()+c.noise*r.NormFloat64(), c.noise*c.noise, 1)
				}
			}
			assert.InEpsilon(t, c.shop, h.sd(0), 0.25, "%+v, seed %d", c, seed+1)
			assert.InEpsilon(t, c.odd, h.sd(3), 0.25, "%+v, seed %d", c, seed+1)
		}
	}
}

// TestHoodsBeforeAnyUse: the prior stands, wide to the upper side, until uses have been seen; one wild use does not undo
// what many have shown; what was learnt fades.
func TestHoodsBeforeAnyUse(t *testing.T) {
	h := newHoods(2, hoodPrior, hoodLeast)
	assert.InDelta(t, 0.06, h.sd(0), 0.03)
	for range 60 {
		h.add(0, 0.02, 1e-4, 1)
	}
	calm := h.sd(0)
	h.add(0, 3, 1e-4, 1)
	assert.Less(t, h.sd(0), 1.3*calm)
	for range 800 {
		h.fade()
	}
	assert.InDelta(t, newHoodsSD(), h.sd(0), 1e-3)
}

func newHoodsSD() float64 {
	h := newHoods(2, hoodPrior, hoodLeast)
	return h.sd(0)
}

// TestHoodsOfADayAreLearntBesideTheUses: days on which a machine stands otherwise all day are told from uses that differ, each
// by its own part of the scatter. Each day is found with an error and with the belief that it is as usual, which is taken out
// again. Seeds 1 to 3.
func TestHoodsOfADayAreLearntBesideTheUses(t *testing.T) {
	const noise, prior = 0.01, 0.02
	for _, day := range []float64{0, 0.03, 0.10} {
		for seed := range uint64(3) {
			r := rand.New(rand.NewPCG(seed+1, 0))
			h := newHoods(4, hoodDayPrior, hoodDayLeast)
			for range 60 {
				for m := range 4 {
					variance := 1 / (1/(noise*noise) + 1/(prior*prior))
					seen := day*r.NormFloat64() + noise*r.NormFloat64()
					h.addDay(m, seen*variance/(noise*noise), variance, prior*prior)
				}
			}
			if day == 0 {
				assert.Less(t, h.sd(0), 0.7*noise, "seed %d", seed+1)
			} else {
				assert.InEpsilon(t, day, h.sd(0), 0.25, "seed %d", seed+1)
			}
		}
	}
	h := newHoods(1, hoodDayPrior, hoodDayLeast)
	before := h.sd(0)
	h.addDay(0, 0.001, 0.99*prior*prior, prior*prior)
	assert.Equal(t, before, h.sd(0), "a day that tells nothing of a hood is not asked")
}

// TestUsesAreCounted: a machine's use goes on over runs in which its gate stays open, and ends where it is shut or where
// much time goes by.
func TestUsesAreCounted(t *testing.T) {
	e := &Estimator{cols: columns{machines: []string{"a", "b"}}}
	minute := func(n int) steady.Run {
		return steady.Run{Start: time.Duration(n) * time.Minute, End: time.Duration(n+1) * time.Minute}
	}
	set := func(machines ...int) *gateSet { return &gateSet{machines: machines} }
	var obs []observation
	for i, s := range []*gateSet{set(0), set(0, 1), set(1), set(0), set(0)} {
		run := minute(i)
		if i == 4 {
			run = minute(100)
		}
		obs = append(obs, observation{set: s, run: &run})
	}
	assert.Equal(t, []int{0, 1, 0, 0}, e.markUses(obs), "four uses, by the machine of each")
	assert.Equal(t, [][]int{{0}, {0, 1}, {1}, {2}, {3}}, [][]int{obs[0].uses, obs[1].uses, obs[2].uses, obs[3].uses, obs[4].uses})
	assert.Equal(t, []float64{0.5}, obs[0].shares)
	assert.Equal(t, []float64{0.5, 0.5}, obs[1].shares)
	assert.Equal(t, []float64{0.5}, obs[2].shares)
	assert.Equal(t, []float64{1}, obs[3].shares, "shut in between")
	assert.Equal(t, []float64{1}, obs[4].shares, "an hour later")
}

// TestSpanFactor against the sum over all pairs of days.
func TestSpanFactor(t *testing.T) {
	for _, rho := range []float64{0, 0.5, 0.75} {
		for n := 1; n < 9; n++ {
			sum := 0.0
			for i := range n {
				for j := range n {
					sum += math.Pow(rho, math.Abs(float64(i-j)))
				}
			}
			assert.InDelta(t, sum/float64(n), spanFactor(n, rho), 1e-12)
		}
		assert.InDelta(t, spanFactor(5000, rho), spanFactor(0, rho), 0.01)
	}
	assert.InDelta(t, dayErrorLong*dayErrorLong, dayError*dayError*spanFactor(0, errorCorrelation), 1e-12)
}
