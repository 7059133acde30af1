package plant

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
)

// samples takes n samples a second apart.
func samples(tap *Tap, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = tap.Sample(1)
	}
	return out
}

// running returns a plant at work whose readings have settled.
func running(t testing.TB, o Options) *Plant {
	p := newPlant(t, workshop(), o)
	openGates(t, p, "planer gate")
	for _, c := range p.Channels() {
		p.Sample(c, 1)
		p.Sample(c, 120)
	}
	return p
}

// TestTurbulence: 2 Pa + 6 % of velocity pressure at a static tap, 0.8 Pa + 1 % of the drop at the filter, correlated
// over 3 to 6 s. Over n samples a s.d. is known to about 1/√(n/τ).
func TestTurbulence(t *testing.T) {
	o := DefaultOptions(21)
	o.Gain, o.DayError, o.FanWander = 0, 0, 0
	p := running(t, o)
	for channel, want := range map[string]float64{
		"main/trunk":  2 + 0.06*p.Mean("main/velocity"),
		"main/filter": 0.8 + 0.01*p.Mean("main/filter"),
	} {
		tap := p.Tap(channel)
		got := samples(tap, 400_000)
		assert.InEpsilon(t, want, stat.StdDev(got, nil), 0.02, "%s, Pa s.d.", channel)
		assert.InDelta(t, p.Mean(channel)+tap.zero, stat.Mean(got, nil), 0.05*want, "%s, Pa", channel)
		tau := -1 / math.Log(stat.Correlation(got[1:], got[:len(got)-1], nil))
		assert.GreaterOrEqual(t, tau, 2.9, "%s, s", channel)
		assert.LessOrEqual(t, tau, 6.2, "%s, s", channel)
	}
}

// TestWindowIsManySamples compares the short way to a window's mean with the long one.
func TestWindowIsManySamples(t *testing.T) {
	o := DefaultOptions(22)
	o.FanWander = 0
	p := running(t, o)
	tap := p.Tap("main/trunk")
	const n, windows = 40, 4000
	var long, short, longSD, shortSD []float64
	for range windows {
		s := samples(tap, n)
		m, sd := stat.MeanStdDev(s, nil)
		long, longSD = append(long, m), append(longSD, sd)
		tap.Sample(60) // so that windows do not know each other
		m, sd = tap.Window(n, 1)
		short, shortSD = append(short, m), append(shortSD, sd)
	}
	assert.InEpsilon(t, stat.Mean(long, nil), stat.Mean(short, nil), 1e-3, "Pa")
	assert.InEpsilon(t, stat.StdDev(long, nil), stat.StdDev(short, nil), 0.05, "Pa s.d. of means")
	assert.InEpsilon(t, stat.Mean(longSD, nil), stat.Mean(shortSD, nil), 0.05, "Pa, mean s.d.")
}

func TestGainsAndZeros(t *testing.T) {
	var gains, zeros, built []float64
	for seed := range uint64(400) {
		p := newPlant(t, threeDrops(), DefaultOptions(seed))
		tap := p.Tap("main/trunk")
		gains, zeros = append(gains, tap.gain), append(zeros, tap.zero)
		built = append(built, math.Log(p.net.segments[1].reach/4.5))
	}
	for _, c := range []struct {
		what string
		got  []float64
		want float64
	}{{"gain", gains, 0.03}, {"zero, Pa", zeros, 3}, {"length as built", built, 0.1}} {
		assert.InEpsilon(t, c.want, stat.StdDev(c.got, nil), 0.12, c.what) // three times 1/√800
		assert.InDelta(t, 0, stat.Mean(c.got, nil), 0.16*c.want, c.what)
	}
}

func TestDays(t *testing.T) {
	p := newPlant(t, threeDrops(), DefaultOptions(23))
	tap := p.Tap("main/filter")
	const n = 20_000
	errs, steps, speeds := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		before := tap.zero
		p.NewDay()
		errs[i], steps[i], speeds[i] = tap.day, tap.zero-before, p.fanDay
	}
	assert.InEpsilon(t, 0.003, stat.StdDev(errs, nil), 0.03, "day error")
	assert.InDelta(t, 0.5, stat.Correlation(errs[1:], errs[:n-1], nil), 0.03, "from day to day")
	assert.InEpsilon(t, 0.4, stat.StdDev(steps, nil), 0.03, "Pa a day")
	assert.InEpsilon(t, 0.001, stat.StdDev(speeds, nil), 0.03, "fan speed")
}

func TestFanWandersTogether(t *testing.T) {
	o := Exact()
	o.Seed, o.FanWander = 24, 0.002
	p := running(t, o)
	a, b := p.Tap("main/trunk"), p.Tap("main/velocity")
	const n = 200_000
	x, y := make([]float64, n), make([]float64, n)
	for i := range n {
		x[i], y[i] = a.Sample(30), b.Sample(30)
	}
	assert.InEpsilon(t, 2*0.002, stat.StdDev(x, nil)/-stat.Mean(x, nil), 0.06, "pressure goes with speed squared")
	assert.Less(t, stat.Correlation(x, y, nil), -0.98, "one fan moves all pressures")
	lag := 30 // 15 minutes
	assert.InDelta(t, math.Exp(-1), stat.Correlation(x[lag:], x[:n-lag], nil), 0.05, "over a quarter of an hour")
}

func TestHoodsStandAnewAtEachUse(t *testing.T) {
	p := newPlant(t, threeDrops(), DefaultOptions(25))
	var x []float64
	for range 5000 {
		require.NoError(t, p.UseMachine("saw"))
		x = append(x, math.Log(p.machines[0].jitter))
	}
	assert.InEpsilon(t, 0.03, stat.StdDev(x, nil), 0.05)
}

func TestHoodsAreStirredWheneverAGateMoves(t *testing.T) {
	o := Exact()
	o.HoodStir = 0.05
	p := newPlant(t, threeDrops(), o)
	require.NoError(t, p.UseMachine("saw"))
	var x []float64
	for i := range 5000 {
		require.NoError(t, p.SetGate("planer gate", i%2 == 0))
		x = append(x, math.Log(p.machines[0].stir))
	}
	assert.InEpsilon(t, 0.05, stat.StdDev(x, nil), 0.05)
	assert.Equal(t, 1.0, p.machines[0].jitter, "its use goes on")
	require.NoError(t, p.SetGate("planer gate", false))
	assert.Equal(t, x[len(x)-1], math.Log(p.machines[0].stir), "no gate has moved")
}

// TestHoodsCreepFromDayToDay, as a random walk that goes on for good, and draw on no other numbers.
func TestHoodsCreepFromDayToDay(t *testing.T) {
	o := DefaultOptions(26)
	still := newPlant(t, threeDrops(), o)
	o.HoodCreep = 0.01
	p := newPlant(t, threeDrops(), o)
	var steps []float64
	was := 0.0
	for range 5000 {
		p.NewDay()
		still.NewDay()
		at := math.Log(p.machines[0].crept)
		steps = append(steps, at-was)
		was = at
	}
	assert.InEpsilon(t, 0.01, stat.StdDev(steps, nil), 0.05)
	assert.InDelta(t, 0, stat.Correlation(steps[1:], steps[:len(steps)-1], nil), 0.05)
	assert.Equal(t, still.fanDay, p.fanDay)
	assert.Equal(t, 1.0, still.machines[0].crept)
}

func TestReadingsFollowInTheirTime(t *testing.T) {
	p := newPlant(t, workshop(), Exact())
	tap := p.Tap("main/trunk")
	require.NoError(t, p.SetGate("planer gate", true))
	assert.Zero(t, tap.Sample(1), "the fan stands")
	p.SetFan(true)
	first := tap.Sample(1)
	assert.Less(t, first, 0.0)
	assert.Greater(t, first, 0.6*tap.Mean(), "a fan needs seconds to run up")
	assert.InEpsilon(t, tap.Mean(), samples(tap, 20)[19], 1e-3)
	p.SetFan(false)
	assert.Less(t, tap.Sample(5), -100.0, "and to run down")
	assert.InDelta(t, 0, samples(tap, 120)[119], 0.01)
}

func TestPluggedTapLagsAndFallsSilent(t *testing.T) {
	o := DefaultOptions(26)
	o.FanWander = 0
	p := running(t, o)
	tap := p.Tap("main/trunk")
	lively := stat.StdDev(samples(tap, 3000), nil)
	p.Plug("main/trunk", true)
	assert.Less(t, stat.StdDev(samples(tap, 3000), nil), 0.1*lively)
	before := tap.Sample(1)
	openGates(t, p, "planer gate", "saw gate")
	assert.InEpsilon(t, before, tap.Sample(5), 0.02, "it has hardly noticed yet")
	p.Plug("main/trunk", false)
	samples(tap, 20)
	assert.InEpsilon(t, tap.Mean(), tap.Sample(1), 0.1)
}

func TestZeroFaults(t *testing.T) {
	p := newPlant(t, workshop(), Exact())
	p.SetZero("main/filter", 8)
	assert.InDelta(t, 8, p.Sample("main/filter", 60), 1e-9, "Pa with the fan off")
	openGates(t, p, "planer gate")
	p.Sample("main/filter", 60)
	assert.InDelta(t, p.Mean("main/filter")+8, p.Sample("main/filter", 60), 1e-3, "and on")
}

// TestTangentsHold compares what a small drift of the filter does along the tangent with a new solution.
func TestTangentsHold(t *testing.T) {
	p := newPlant(t, workshop(), Exact())
	openGates(t, p, "planer gate")
	p.SetFilterRatio(1.009)
	require.False(t, p.dirty, "a small drift is not solved anew")
	drifted := map[string]float64{}
	for _, c := range p.Channels() {
		drifted[c] = p.Mean(c)
	}
	p.dirty = true
	for _, c := range p.Channels() {
		assert.InEpsilon(t, p.Mean(c), drifted[c], 1e-4, c)
	}
}

func TestSameSeedSamePlant(t *testing.T) {
	run := func(seed uint64) (out []float64) {
		p := newPlant(t, workshop(), DefaultOptions(seed))
		openGates(t, p, "saw gate")
		for range 50 {
			p.NewDay()
			require.NoError(t, p.UseMachine("saw"))
			for _, c := range p.Channels() {
				out = append(out, p.Sample(c, 1))
			}
		}
		return out
	}
	assert.Equal(t, run(1), run(1))
	assert.NotEqual(t, run(1), run(2))
}

// TestTapsDoNotDisturbEachOther: what a tap says does not depend on who else was asked.
func TestTapsDoNotDisturbEachOther(t *testing.T) {
	a, b := running(t, DefaultOptions(27)), running(t, DefaultOptions(27))
	for range 100 {
		b.Sample("main/filter", 1)
		assert.Equal(t, a.Sample("main/trunk", 1), b.Sample("main/trunk", 1))
	}
}

// TestHoodsThatAreSetOnceADay: where a hood is set in the morning, it stands so at every use of that day, and otherwise on the
// next.
func TestHoodsThatAreSetOnceADay(t *testing.T) {
	o := Exact()
	o.Seed, o.HoodJitter, o.HoodDaily = 31, 0.1, true
	p := newPlant(t, workshop(), o)
	openGates(t, p, "saw gate")
	use := func() float64 {
		require.NoError(t, p.UseMachine("saw"))
		return p.Mean("main/trunk")
	}
	first := use()
	assert.Equal(t, first, use(), "Pa, at the second use of the day")
	require.NoError(t, p.Apply(Event{Kind: DayEvent}))
	second := use()
	assert.NotEqual(t, first, second, "Pa, on the next day")
	assert.Equal(t, second, use())
}
