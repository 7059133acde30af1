package plant

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestOneSideOfASensor: shut off while the fan runs, it holds what stands in it when the fan stops; shut off at rest, or come
// off, the sensor reads its other side against the room.
func TestOneSideOfASensor(t *testing.T) {
	p := newPlant(t, workshop(), Exact())
	openGates(t, p, "planer gate")
	require.NoError(t, p.Err())
	drop, dirty := p.Mean("main/filter"), p.state.high[p.Tap("main/filter").i]
	require.Negative(t, dirty)

	p.ShutSide("main/filter", -1)
	assert.InDelta(t, drop, p.Mean("main/filter"), 1e-3, "Pa: nothing has moved yet")
	p.SetFan(false)
	assert.InDelta(t, drop-dirty, p.Mean("main/filter"), 1e-3, "Pa, of the clean side")
	p.ShutSide("main/filter", 0)
	assert.Zero(t, p.Mean("main/filter"))

	p.ShutSide("main/filter", 1)
	p.SetFan(true)
	assert.InDelta(t, drop-dirty, p.Mean("main/filter"), 1e-3, "Pa: the room less the clean side")
	p.SetFan(false)
	p.ShutSide("main/filter", -1)
	p.SetFan(true)
	assert.InDelta(t, dirty, p.Mean("main/filter"), 1e-3, "Pa: the dirty side less the room")
}

// TestWhatComesAndGoes: chips are in a drop only while its gate is open, and on no more than two thirds of that time; a fault
// that lasts for a part of each day is over in between; a pulse takes its share of the resistance and gives it back.
func TestWhatComesAndGoes(t *testing.T) {
	var cutting, open, short time.Duration
	w := workYear(t, func(o *WorkOptions) {
		o.AllDays, o.Pulse, o.PulseShare = true, 5*time.Minute, 0.1
		o.Faults = []Fault{{Day: 1, Kind: ChipEvent, Name: "planer", Size: 1.2},
			{Day: 1, At: 9 * time.Hour, Lasts: 2 * time.Hour, Kind: RestrictEvent, Size: 500, Until: 3}}
	})
	low, high := 9.0, 0.0
	for n := range 5 {
		cut, opened, shut, was := false, false, false, time.Duration(0)
		for _, e := range w.Day(n) {
			if cut {
				require.True(t, opened || e.At == was, "chips behind a shut gate")
				cutting += e.At - was
			}
			if opened && n > 0 {
				open += e.At - was
			}
			if shut {
				short += e.At - was
			}
			was = e.At
			switch {
			case e.Kind == ChipEvent:
				cut = e.Value > 1
			case e.Kind == GateEvent && e.Name == "planer gate":
				opened = e.On
			case e.Kind == RestrictEvent:
				shut = e.Value > 0
			case e.Kind == FilterEvent && n == 0 && e.At > 7*time.Hour:
				low, high = min(low, e.Value), max(high, e.Value)
			}
		}
	}
	assert.Equal(t, 4*time.Hour, short)
	assert.InDelta(t, 0.5, cutting.Hours()/open.Hours(), 0.15)
	assert.InDelta(t, 0.9, low/high, 0.06)
}
