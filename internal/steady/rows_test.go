package steady

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestRowsThatStraddleAChangeAreLeftOut: a one-minute mean holds both states.
func TestRowsThatStraddleAChangeAreLeftOut(t *testing.T) {
	b := newBench(t, twoGates())
	b.shut()
	row := func(v float64) { b.row("main/trunk", v, 2, time.Minute, 60) }
	b.pass(50 * time.Second)
	row(wild) // reaches back to before the fold began
	b.pass(time.Minute)
	row(-2500)
	b.pass(time.Minute)
	row(-2500)
	b.pass(20 * time.Second)
	b.put("gate/saw", 1)
	b.pass(40 * time.Second)
	row(wild) // 20 s before the gate moved, 40 s after
	for range 4 {
		b.pass(time.Minute)
		row(-1500)
	}
	b.pass(30 * time.Second)
	b.put("gate/saw", 0)
	require.Len(t, b.runs, 2)
	assert.Equal(t, Closed, b.runs[0].Kind)
	shut := of(t, b.runs[0], "main/trunk")
	assert.Equal(t, -2500.0, shut.Mean)
	assert.Equal(t, 120, shut.N, "the last row before the gate moved counts too")
	assert.InDelta(t, 2, shut.SD, 1e-12)
	open := of(t, b.runs[1], "main/trunk")
	assert.Equal(t, -1500.0, open.Mean)
	assert.Equal(t, 240, open.N)
}

// TestLongRowsAreNoSilence: a file of five-minute means is silent between them, and still tells.
func TestLongRowsAreNoSilence(t *testing.T) {
	b := newBench(t, twoGates())
	b.shut()
	for range 6 {
		b.pass(5 * time.Minute)
		b.row("main/trunk", -2500, math.NaN(), 5*time.Minute, 0)
	}
	b.put("gate/saw", 1)
	r := b.one()
	assert.Equal(t, -2500.0, of(t, r, "main/trunk").Mean)
	assert.Equal(t, 4, of(t, r, "main/trunk").N, "not the first, in which the air settled, nor the last, in which the gate moved")
	assert.InDelta(t, 0.5, r.FanHours, 1e-12)
}

// TestShortRowsTellAsMuchAsTheirSamples: the same record as samples and as rows of ten seconds, with and without the
// scatter within.
func TestShortRowsTellAsMuchAsTheirSamples(t *testing.T) {
	const repeats = 400
	var guessed, known float64 // of the standard error, from rows that do not tell their scatter
	for seed := range uint64(repeats) {
		x := turbulence(seed, 5.5, 60)
		whole := summarise(t, x, 1)
		var told, untold series
		for i := 0; i+10 <= len(x); i += 10 {
			m, sd := meanSD(x[i : i+10])
			r := row(time.Duration(i+10)*time.Second, m, sd, 10*time.Second, 10)
			told.add(&r)
			r = row(time.Duration(i+10)*time.Second, m, math.NaN(), 10*time.Second, 0)
			untold.add(&r)
		}
		a, _ := told.summary("x", eddies{})
		assert.Equal(t, whole.N, a.N)
		assert.InDelta(t, whole.Mean, a.Mean, 1e-9)
		assert.InEpsilon(t, whole.SD, a.SD, 1e-9)
		assert.InEpsilon(t, whole.SE, a.SE, 0.02)
		u, _ := untold.summary("x", eddies{})
		assert.InDelta(t, whole.Mean, u.Mean, 1e-9)
		guessed += u.SE * u.SE / repeats
		known += whole.SE * whole.SE / repeats
	}
	assert.InEpsilon(t, known, guessed, 0.2, "variance of the mean from the rows' own scatter")
}

// TestTwoStillRowsAreAZero: a recorder of one-minute means that wakes shortly before the fan gives few values, each of a
// whole minute. One of them alone could not be held against anything.
func TestTwoStillRowsAreAZero(t *testing.T) {
	for rows, zeroes := range map[int]int{1: 0, 2: 1, 4: 1} {
		b := newBench(t, twoGates())
		b.put("main/fan", 0)
		b.pass(runDown + 20*time.Second)
		for range rows {
			b.pass(time.Minute)
			b.row("main/trunk", 8, math.NaN(), time.Minute, 0)
		}
		b.pass(10 * time.Second)
		b.shut()
		require.Len(t, b.f.Zeros(), zeroes, "after %d rows", rows)
		if zeroes > 0 {
			assert.Equal(t, 8.0, b.f.Zeros()["main/trunk"].Value)
		}
	}
}
