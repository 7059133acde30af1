package daemon

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/clock"
	"ductward/internal/shop"
)

var monday = time.Date(2026, 3, 16, 7, 0, 0, 0, time.UTC)

func newTestIntake(s *shop.Shop) (*intake, map[string]*channel, *clock.Virtual) {
	clk := clock.NewVirtual(monday)
	channels, _ := channelsOf(s)
	in := newIntake(clk, 1, channels)
	in.place(monday)
	return in, channels, clk
}

// recordedIn tells how many readings of a channel a span of seconds records at one a second.
func recordedIn(in *intake, c *channel, clk *clock.Virtual, seconds int, v float64) int {
	before := in.waiting()
	for range seconds {
		clk.Advance(time.Second)
		in.take(c, single(v))
	}
	return in.waiting() - before
}

func TestSensorsAreRecordedSparselyWhileTheFanStands(t *testing.T) {
	in, channels, clk := newTestIntake(smallShop())
	trunk, fan := channels["main/trunk"], channels["main/fan"]
	assert.Equal(t, 600, recordedIn(in, trunk, clk, 600, -800), "fan not known: every sample")
	in.take(fan, single(1))
	assert.Equal(t, 600, recordedIn(in, trunk, clk, 600, -800), "fan on: every sample")
	in.take(fan, single(0))
	assert.Equal(t, 239, recordedIn(in, trunk, clk, 239, 0), "run-down and zero: every sample")
	assert.Equal(t, 60, recordedIn(in, trunk, clk, 3600, 0), "at rest: one a minute")
	in.take(fan, single(1))
	assert.Equal(t, 60, recordedIn(in, trunk, clk, 60, -800), "fan on again: every sample, at once")
}

func TestPressureTellsTheFanWhereNoSwitchDoes(t *testing.T) {
	s := smallShop()
	s.Collectors[0].FanSwitch = nil
	in, channels, clk := newTestIntake(s)
	trunk, filter := channels["main/trunk"], channels["main/filter drop"]
	recordedIn(in, trunk, clk, 300, -3)
	assert.Equal(t, 10, recordedIn(in, filter, clk, 600, 0), "at rest: one a minute")
	assert.Equal(t, 1, recordedIn(in, trunk, clk, 1, -21), "it stirs: recorded at once")
	assert.Equal(t, 60, recordedIn(in, filter, clk, 60, 600), "and so are the others")
}

func TestSwitchesAreRecordedWhenTheyMoveAndOnEachBeat(t *testing.T) {
	in, channels, clk := newTestIntake(smallShop())
	gate := channels["gate/saw gate"]
	assert.Equal(t, 1, recordedIn(in, gate, clk, 100, 0))
	assert.Equal(t, 1, recordedIn(in, gate, clk, 100, 1))
	assert.Equal(t, 1, recordedIn(in, gate, clk, 100, math.NaN()), "not known is a position too, once")
	assert.Equal(t, 1, recordedIn(in, gate, clk, 100, 1))
	in.beatIfDue(clk.Mono())
	assert.Equal(t, 4, in.waiting(), "no beat before its time")
	clk.Advance(beat)
	in.beatIfDue(clk.Mono())
	in.beatIfDue(clk.Mono())
	b := in.swap(nil)
	require.Len(t, b.readings, 5, "one beat, of the one switch that is known")
	last := b.readings[4]
	assert.Equal(t, "gate/saw gate", last.Channel)
	assert.InDelta(t, 1, last.Value, 0)
}
