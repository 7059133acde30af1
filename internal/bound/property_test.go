package bound

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"ductward/internal/shop"
)

// TestMoreNeverTellsLess: another sensor, another run, another day and air that is measured each leave every error as it is
// or lower it; a change that may have come about besides raises it.
func TestMoreNeverTellsLess(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		r, all := drawn(rng, 3, 2, 3), drawnDays(rng, 2, 5)
		r.Noise.AirCorrelation = 0 // so that only how far the air is known differs where it is measured
		more, moreDays, before, wander := *r, all, 3, 0.0
		poorer := *r
		poorerDays := all
		switch rapid.IntRange(0, 5).Draw(t, "what") {
		case 0:
			poorer = *r.Only(func(c Channel) bool { return c.Name != "main/2" }, r.Measured)
		case 1:
			wander = 0.5
		case 2:
			poorerDays = all[:4]
		case 3:
			moreDays, before = append(drawnDays(rng, 2, 1), all...), 4
		case 4:
			moreDays = append([]Day(nil), all...)
			moreDays[4] = append(append(Day(nil), all[4]...), Run{Set: 0, At: 6, Seconds: 600})
		case 5:
			more.Measured = map[shop.Quantity]bool{shop.AirTemperature: true, shop.BarometricPressure: true}
		}
		with, without := sds(t, &more, moreDays, before, 0), sds(t, &poorer, poorerDays, 3, wander)
		for i := range with {
			if with[i] > without[i]*(1+1e-4) { // the middle of a day moves with a run, and with it what its filter is asked for
				t.Fatalf("change %d is known to %.6g with more, to %.6g with less", i, with[i], without[i])
			}
		}
	})
}

// sds returns the errors of the second and third change while the first may wander.
func sds(t require.TestingT, r *Response, all []Day, before int, wander float64) []float64 {
	rec, err := NewRecord(r, all)
	require.NoError(t, err)
	s, err := rec.Space(Step(before, len(all)-before))
	require.NoError(t, err)
	s, err = s.Wander(func(c Change) float64 {
		if c.Part == "run:0" {
			return wander
		}
		return 0
	})
	require.NoError(t, err)
	return []float64{s.SD(1, 0.1), s.SD(2, 0.1)}
}

// TestOrderDoesNotMatter: neither of the runs of a day, nor of the sets, nor of the channels.
func TestOrderDoesNotMatter(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	r := drawn(rng, 3, 3, 2)
	all := drawnDays(rng, 3, 8)
	sd := func(r *Response, all []Day) float64 {
		rec, err := NewRecord(r, all)
		require.NoError(t, err)
		s, err := rec.Space(Step(5, 3))
		require.NoError(t, err)
		return s.SD(1, 0.1)
	}
	want := sd(r, all)
	var other []Day
	for _, d := range all {
		var back Day
		for i := range d {
			run := d[len(d)-1-i]
			run.Set = 2 - run.Set
			back = append(back, run)
		}
		other = append(other, back)
	}
	turned := *r
	turned.Sets = []Set{r.Sets[2], r.Sets[1], r.Sets[0]}
	assert.InEpsilon(t, want, sd(&turned, other), 1e-9, "runs and sets")
	swapped := &Response{Noise: r.Noise, Measured: r.Measured, Changes: r.Changes, Channels: picked(r.Channels, []int{2, 0, 1})}
	for i := range r.Sets {
		swapped.Sets = append(swapped.Sets, r.Sets[i].only([]int{2, 0, 1}, []int{0, 1}))
		swapped.Sets[i].Hoods = r.Sets[i].Hoods
	}
	assert.InEpsilon(t, want, sd(swapped, all), 1e-9, "channels")
}

// TestHalves: L·Lᵀ gives the matrix back, of whatever rank.
func TestHalves(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	for rank := range 6 {
		a := mat.NewSymDense(6, nil)
		for range rank {
			x := mat.NewVecDense(6, nil)
			for i := range 6 {
				x.SetVec(i, rng.NormFloat64())
			}
			a.SymRankOne(a, 1, x)
		}
		low := halves(a)
		for i := range 6 {
			assert.Len(t, low[i], rank)
			for j := range 6 {
				assert.InDelta(t, a.At(i, j), dot(low[i], low[j]), 1e-12)
			}
		}
	}
}
