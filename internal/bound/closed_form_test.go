package bound

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"ductward/internal/shop"
)

// one is a response of one channel in one set, on which a leak does a known thing and nothing else anything.
func one(n Noise, does float64) *Response {
	return &Response{
		Channels: []Channel{{Name: "main/drop", Measures: shop.FilterDrop}},
		Changes:  []Change{{Leak, "run:trunk", Trunk}},
		Noise:    n, Measured: map[shop.Quantity]bool{},
		Sets: []Set{{Mean: []float64{100}, By: [][]float64{{does}}, Filter: []float64{0}, Density: []float64{0},
			Speed: []float64{0}, Common: make([][3]float64, 1), Scatter: []float64{0.02}, Zero: []float64{0.004}}},
	}
}

// plain is a noise with nothing but turbulence, zeros, day errors and a bias that nobody knows.
func plain() Noise {
	return Noise{Correlation: 5, Zero: 0.4, Day: 0.003, SetBias: 3, Slope: 0.01, Humidity: 0.002}
}

// days is n times one day of one run of 400 s.
func days(n int) []Day {
	var out []Day
	for range n {
		out = append(out, Day{{Set: 0, At: 1, Seconds: 400}})
	}
	return out
}

// sdOf returns the standard error of the first change after some days.
func sdOf(t testing.TB, r *Response, all []Day, before int) float64 {
	t.Helper()
	rec, err := NewRecord(r, all)
	require.NoError(t, err)
	s, err := rec.Space(Step(before, len(all)-before))
	require.NoError(t, err)
	return s.SD(0, 0)
}

// TestOneChannelOneSet: each day measures the level with σ² = day² + zero² + turbulence²·2τ/T; the change is the difference
// of two means, the first of which has the prior of the bias beside it.
func TestOneChannelOneSet(t *testing.T) {
	n := plain()
	sigma2 := 0.003*0.003 + 0.004*0.004 + 0.02*0.02*2*5/400
	for _, c := range []struct{ before, after int }{{1, 1}, {5, 1}, {10, 5}, {3, 7}} {
		want := math.Sqrt(1/(float64(c.before)/sigma2+1/9.0)+sigma2/float64(c.after)) / 4
		assert.InEpsilon(t, want, sdOf(t, one(n, 4), days(c.before+c.after), c.before), 1e-9, "%d days before, %d after", c.before, c.after)
	}
}

// TestDaysThatGoOn: with an error of two days correlated by ρ, the mean of both has (1+ρ)/2 of its variance. The baseline is
// long past (its days say the bias exactly), so that nothing else counts.
func TestDaysThatGoOn(t *testing.T) {
	n := plain()
	n.DayCorrelation = 0.5
	r := one(n, 1)
	r.Sets[0].Scatter[0], r.Sets[0].Zero[0] = 1e-6, 0
	r.Noise.SetBias = 1e-7 // known beforehand
	rec, err := NewRecord(r, days(2))
	require.NoError(t, err)
	s, err := rec.Space(Step(0, 2))
	require.NoError(t, err)
	assert.InEpsilon(t, 0.003*math.Sqrt(1.5/2), s.SD(0, 0), 1e-4)
}

// TestAFilterHidesWhatItLooksLike: a change that does to every channel what the filter does cannot be told, since the filter
// is free each day. With a second channel that the filter moves otherwise, it can.
func TestAFilterHidesWhatItLooksLike(t *testing.T) {
	r := one(plain(), 4)
	r.Sets[0].Filter[0] = 0.7
	assert.Greater(t, 4*sdOf(t, r, days(15), 10), 0.4, "as good as nothing is known: the filter's own prior is all there is")
	r.Channels = append(r.Channels, Channel{Name: "main/static", Measures: shop.StaticPressure})
	s := &r.Sets[0]
	s.Mean, s.By, s.Filter = append(s.Mean, -800), append(s.By, []float64{4}), append(s.Filter, -0.7)
	s.Density, s.Speed, s.Common = append(s.Density, 0), append(s.Speed, 0), append(s.Common, [3]float64{})
	s.Scatter, s.Zero = append(s.Scatter, 0.02), append(s.Zero, 0.004)
	sigma2 := 0.003*0.003 + 0.004*0.004 + 0.02*0.02*2*5/400
	// the mean of both channels does not move with the filter, and has half the variance
	want := math.Sqrt(sigma2/2*(1.0/10+1.0/5)) / 4
	assert.InEpsilon(t, want, sdOf(t, r, days(15), 10), 1e-4)
}

// TestSmallest: with nothing that grows with the size, a change is found nine times of ten at (threshold + 1.2816) standard
// errors.
func TestSmallest(t *testing.T) {
	n := plain()
	r := one(n, 4)
	rec, err := NewRecord(r, days(15))
	require.NoError(t, err)
	s, err := rec.Space(Step(10, 5))
	require.NoError(t, err)
	s.scale = 0
	assert.InEpsilon(t, (4+1.2815515655)*s.SD(0, 0), s.Smallest([]int{0}, 0.9, 4, 1), 1e-9)
	assert.InEpsilon(t, 0.5, s.Power(0, 4*s.SD(0, 0), 4), 1e-9, "at the threshold itself, half the time")
	assert.InEpsilon(t, distuv.UnitNormal.CDF(-4), s.Power(0, 0, 4), 1e-9, "nothing is there")
	assert.True(t, math.IsInf(s.Smallest([]int{0}, 0.9, 4, 1e-9), 1))
}

// TestWhatGrowsWithASize: a scale of all flows of 2 % makes the error of a size x of √(σ² + (0.02·x)²).
func TestWhatGrowsWithASize(t *testing.T) {
	n := plain()
	n.FanCurve, n.Gain = 0.02, 0
	r := one(n, 4)
	rec, err := NewRecord(r, days(15))
	require.NoError(t, err)
	s, err := rec.Space(Step(10, 5))
	require.NoError(t, err)
	assert.InEpsilon(t, math.Hypot(s.SD(0, 0), 0.02*3), s.SD(0, 3), 1e-9)
	// a change that shows otherwise by a tenth, in the same direction, does the same
	r.Sets[0].Otherwise = [][][]float64{{{0.4}}}
	s, err = rec.Space(Step(10, 5))
	require.NoError(t, err)
	s.scale = 0
	assert.InEpsilon(t, math.Hypot(s.SD(0, 0), 0.1*3), s.SD(0, 3), 1e-9)
}

// TestTheFilterOfADay: with a channel that reads nothing but the filter, the day's resistance against the baseline's mean
// has σ²·(1 + 1/n), the slope within a day centred and the bias the same on both sides.
func TestTheFilterOfADay(t *testing.T) {
	r := one(plain(), 0)
	r.Sets[0].Filter[0] = 1
	rec, err := NewRecord(r, days(11))
	require.NoError(t, err)
	sd, err := rec.FilterSD(10)
	require.NoError(t, err)
	sigma2 := 0.003*0.003 + 0.004*0.004 + 0.02*0.02*2*5/400
	assert.InEpsilon(t, math.Sqrt(sigma2*(1+1.0/10)), sd, 1e-4)
}

// TestASpeedThatLasts: the mean of two runs whose speeds are correlated by ρ has (1+ρ)/2 of the variance of one.
func TestASpeedThatLasts(t *testing.T) {
	n := plain()
	n.SetBias, n.Day, n.SpeedRun, n.SpeedTime = 1e-6, 1e-6, 0.002, 3600
	r := one(n, 1)
	r.Sets[0].Speed[0], r.Sets[0].Scatter[0], r.Sets[0].Zero[0] = 2, 1e-6, 0
	const share = 1 - 1.0/360/3 // nearly: the mean over 10 s
	two := []Day{{{Set: 0, At: 1, Seconds: 10}, {Set: 0, At: 1.5, Seconds: 10}}}
	assert.InEpsilon(t, 2*0.002*math.Sqrt(share*(1+math.Exp(-0.5))/2), sdOf(t, r, two, 0), 1e-4)
}

func TestWhatCannotBeAsked(t *testing.T) {
	_, err := NewRecord(one(plain(), 1), nil)
	assert.ErrorContains(t, err, "at least one day")
	r := one(plain(), 1)
	r.Sets[0].Scatter[0] = 0
	_, err = NewRecord(r, days(2))
	assert.ErrorContains(t, err, "not finite")
}

// TestTheRunsOfOneUse: two halves of one use tell no more than one use does, and two uses √2 times as much
// as that. Nothing else than the hood is uncertain here.
func TestTheRunsOfOneUse(t *testing.T) {
	n := plain()
	n.Hood, n.SetBias, n.Day = 0.03, 1e-6, 1e-6
	r := one(n, 1)
	r.Changes = append(r.Changes, Change{Block, "saw", "saw"})
	r.Sets[0].By[0] = []float64{1, 0.5}
	r.Sets[0].Hoods, r.Sets[0].Scatter[0], r.Sets[0].Zero[0] = []int{1}, 1e-6, 0
	day := func(uses []int) []Day {
		return []Day{{{Set: 0, At: 1, Seconds: 400, Uses: uses}, {Set: 0, At: 2, Seconds: 400, Uses: uses}}}
	}
	assert.InEpsilon(t, 0.5*0.03, sdOf(t, r, day([]int{0}), 0), 1e-4, "one use")
	assert.InEpsilon(t, 0.5*0.03/math.Sqrt2, sdOf(t, r, day(nil), 0), 1e-4, "two")
}
