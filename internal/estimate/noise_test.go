package estimate

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/finding"
	"ductward/internal/steady"
)

// TestAChannelThatBecomesNoisyIsTold, where it alone does, in several runs, and is over when it is as it was. Turbulence
// that grows everywhere is the air's own.
func TestAChannelThatBecomesNoisyIsTold(t *testing.T) {
	e := demo(t)
	at := time.Date(2027, 3, 1, 8, 0, 0, 0, time.UTC)
	// run tells of a run in which the taps move by so many times what they usually do.
	run := func(times map[string]float64) {
		r := steady.Run{Kind: steady.Running, At: at, Open: []string{"planer gate"}}
		for ch, sd := range map[string]float64{"main/filter drop": 6, "main/trunk static": 30, "main/trunk velocity": 12} {
			share := 1.0
			if x, ok := times[ch]; ok {
				share = x
			}
			r.Channels = append(r.Channels, steady.Summary{Channel: ch, Mean: 500, SE: 1, SD: share * sd, N: 60, ZeroAge: -1})
		}
		e.faults.noise(e, &r)
		at = at.Add(time.Hour)
	}
	found := func() []finding.Finding { return e.findings }
	for range 5 {
		run(nil)
	}
	everywhere := map[string]float64{"main/filter drop": 5, "main/trunk static": 5, "main/trunk velocity": 5}
	for range noiseRuns {
		run(everywhere)
	}
	require.Empty(t, found(), "the air has become louder")

	alone := map[string]float64{"main/trunk static": 6}
	for range noiseRuns - 1 {
		run(alone)
	}
	run(nil)
	require.Empty(t, found(), "it comes and goes")
	for range noiseRuns {
		run(alone)
	}
	require.Len(t, found(), 1)
	f := found()[0]
	assert.Equal(t, finding.SensorNoisy, f.Kind)
	assert.Equal(t, "main/trunk static", f.Subject)
	assert.Equal(t, finding.Instrument, f.Priority)
	assert.InDelta(t, 6, f.Size, 1e-9, "times what it was")
	assert.Contains(t, f.Text, "6.0 times as much")
	assert.Empty(t, e.distrusted, "its readings count for less by themselves")
	for range noiseRuns {
		run(map[string]float64{"main/trunk static": 1.3})
	}
	assert.False(t, found()[0].Ended.IsZero())

	for range noiseRuns { // and a tap that plugs up is told as that
		run(map[string]float64{"main/trunk velocity": 0.1})
	}
	require.Len(t, found(), 2)
	assert.Equal(t, finding.SensorPlugged, found()[1].Kind)
	assert.True(t, e.distrusted["main/trunk velocity"])
}
