package steady

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// unseen is a bench whose saw gate tells nothing.
func unseen(t require.TestingT, noise float64) *bench {
	b := newBench(t, twoGates())
	b.noise = noise
	b.shut()
	b.put("gate/saw", math.NaN())
	return b
}

// TestAGateThatMovesUnseenEndsARun: its step in the pressures parts the stretch, and neither side holds anything of the
// other.
func TestAGateThatMovesUnseenEndsARun(t *testing.T) {
	b := unseen(t, 5)
	b.sample(10*time.Minute, -2000, 300)
	b.sample(4*time.Minute+7*time.Second, -1900, 330)
	b.sample(5*time.Minute+11*time.Second, -1500, 600)
	b.put("main/fan", 0)
	require.Len(t, b.runs, 3)
	hours := 0.0
	for i, want := range []struct{ trunk, filter float64 }{{-2000, 300}, {-1900, 330}, {-1500, 600}} {
		r := b.runs[i]
		assert.Equal(t, Unknown, r.Kind)
		assert.Equal(t, []string{"saw"}, r.Unknown)
		assert.Empty(t, r.Open)
		for ch, mean := range map[string]float64{"main/trunk": want.trunk, "main/filter": want.filter} {
			s := of(t, r, ch)
			assert.InDelta(t, mean, s.Mean, 4*s.SE, "%s of run %d", ch, i)
			assert.Less(t, s.SE, 2.5, "%s of run %d", ch, i)
		}
		hours += r.FanHours
		assert.Equal(t, monday.Add(r.End), r.At, "civil time of its end")
		if i > 0 {
			assert.Greater(t, r.Start, b.runs[i-1].End)
		}
	}
	assert.InDelta(t, (19*60.0+18)/3600, hours, 1e-9)
}

// TestAGateThatMovesUnseenInRowsOfAMinute.
func TestAGateThatMovesUnseenInRowsOfAMinute(t *testing.T) {
	b := unseen(t, 1)
	for i := range 12 {
		b.pass(time.Minute)
		v, d := -2000.0, 300.0
		switch {
		case i == 6:
			v, d = -1800, 400 // of both states
		case i > 6:
			v, d = -1500, 550
		}
		b.row("main/trunk", v+3*b.rng.NormFloat64(), math.NaN(), time.Minute, 0)
		b.row("main/filter", d+2*b.rng.NormFloat64(), math.NaN(), time.Minute, 0)
	}
	b.put("main/fan", 0)
	require.Len(t, b.runs, 2)
	assert.InDelta(t, -2000, of(t, b.runs[0], "main/trunk").Mean, 6)
	assert.InDelta(t, -1500, of(t, b.runs[1], "main/trunk").Mean, 6)
}

// TestSteadyAirIsNotCut, though some gate's position is not known: hours of turbulence that is correlated over 5 s.
func TestSteadyAirIsNotCut(t *testing.T) {
	b := unseen(t, 0)
	var trunk, filter float64
	a := math.Exp(-1.0 / 5)
	k := math.Sqrt(1 - a*a)
	for range 2*3600 + 600 {
		trunk = a*trunk + k*12*b.rng.NormFloat64()
		filter = a*filter + k*4*b.rng.NormFloat64()
		b.sample(time.Second, -2000+trunk, 300+filter)
	}
	require.Len(t, b.runs, 2, "one an hour")
	for i, r := range b.runs[1:] {
		assert.Equal(t, b.runs[i].End, r.Start)
	}
}

// TestTheRunThatGoesOnIsWhatCameAfterTheLastStep.
func TestTheRunThatGoesOnIsWhatCameAfterTheLastStep(t *testing.T) {
	b := unseen(t, 5)
	b.sample(8*time.Minute, -2000, 300)
	b.sample(3*time.Minute, -1500, 600)
	r, ok := b.f.Open()
	require.True(t, ok)
	assert.InDelta(t, 600, of(t, r, "main/filter").Mean, 5)
	assert.Equal(t, []string{"saw"}, r.Unknown)
	assert.Empty(t, b.runs)
}
