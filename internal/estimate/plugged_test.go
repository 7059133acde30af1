package estimate

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/finding"
	"ductward/internal/steady"
)

// TestAPluggedTapIsLeftOutSinceItFellSilent: a tap that plugs up lags behind the gates from its first quiet run on, and it is told
// in the fourth. What it holds back when the fan stops is no trouble of its own.
func TestAPluggedTapIsLeftOutSinceItFellSilent(t *testing.T) {
	const tap = "main/trunk static"
	e := demo(t)
	c := slices.Index(e.cols.channels, tap)
	e.open = &dayData{parts: 1}
	at, mono := time.Date(2027, 3, 1, 8, 0, 0, 0, time.UTC), time.Duration(0)
	next := func(kind steady.Kind) steady.Run {
		at, mono = at.Add(time.Hour), mono+time.Hour
		return steady.Run{Kind: kind, Boot: 1, Start: mono - 50*time.Minute, End: mono, At: at, Open: []string{"planer gate"}}
	}
	run := func(share float64) {
		r := next(steady.Running)
		for _, ch := range e.cols.channels {
			s := steady.Summary{Channel: ch, Mean: 500, SE: 1, SD: 10, N: 60, ZeroAge: -1}
			if ch == tap {
				s.SD *= share
			}
			r.Channels = append(r.Channels, s)
		}
		e.faults.noise(e, &r)
		o, ok := e.observe(&r, nil)
		require.True(t, ok)
		e.open.obs = append(e.open.obs, o)
	}
	zero := func(reads float64) {
		r := next(steady.Zero)
		r.Channels = []steady.Summary{{Channel: tap, Mean: reads, SE: 0.1, N: 60}}
		e.faults.zero(e, &r)
	}
	zero(1)
	for range noiseLearn + 1 {
		run(1)
	}
	zero(1)
	for range noiseRuns - 1 {
		run(0.1)
	}
	zero(-900) // before anybody knows why
	require.Len(t, e.findings, 1)
	assert.Equal(t, finding.SensorZero, e.findings[0].Kind)
	zero(1)
	run(0.1)
	require.Len(t, e.findings, 2)
	assert.Equal(t, finding.SensorPlugged, e.findings[1].Kind)
	assert.False(t, e.findings[0].Active())
	for i, o := range e.open.obs {
		assert.Equal(t, i <= noiseLearn, slices.Contains(o.have, c), "run %d", i)
	}
	zero(-900)
	assert.Len(t, e.findings, 2, "one trouble, one finding")
	assert.True(t, e.refused[tap], "and no zero")
}
