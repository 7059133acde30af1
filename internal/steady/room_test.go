package steady

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSeldomReadAirStandsForTheRunsBetween: a thermometer that reads once in a while, or tells hourly means, measures the air
// of every run since, until it has been silent for hours; a boot later nobody knows how long that is.
func TestSeldomReadAirStandsForTheRunsBetween(t *testing.T) {
	b := newBench(t, twoGates())
	b.shut()
	b.row("main/room", 291, math.NaN(), time.Hour, 0)
	rows := func(minutes int) {
		for range minutes {
			b.pass(time.Minute)
			b.row("main/trunk", -1500, math.NaN(), time.Minute, 0)
		}
	}
	use := func() Run {
		b.runs = nil
		b.put("gate/saw", 1)
		rows(3)
		b.pass(5 * time.Second)
		b.put("gate/saw", 0)
		require.NotEmpty(t, b.runs)
		return b.runs[len(b.runs)-1]
	}
	air := of(t, use(), "main/room")
	assert.Equal(t, 291.0, air.Mean)
	assert.True(t, math.IsNaN(air.SD), "one reading has no scatter")

	for range 8 {
		rows(15)
	}
	assert.Nil(t, channelIn(use(), "main/room"), "after two hours it may be any")

	b.put("main/room", 293)
	rows(10)
	assert.Equal(t, 293.0, of(t, use(), "main/room").Mean)

	b.boot, b.mono = b.boot+1, 0
	b.put("main/fan", 1)
	b.put("gate/planer", 0)
	assert.Nil(t, channelIn(use(), "main/room"))
}

// TestAirAloneMakesNoRun: of a stretch in which no pressure was read nothing is told.
func TestAirAloneMakesNoRun(t *testing.T) {
	b := newBench(t, twoGates())
	b.shut()
	b.put("main/room", 291)
	b.pass(2 * time.Minute)
	b.put("gate/saw", 1)
	b.pass(2 * time.Minute)
	b.put("gate/saw", 0)
	assert.Empty(t, b.runs)
}

// channelIn returns a channel of a run, nil where it has none.
func channelIn(r Run, channel string) *Summary {
	for i := range r.Channels {
		if r.Channels[i].Channel == channel {
			return &r.Channels[i]
		}
	}
	return nil
}
