package steady

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/shop"
)

// withContacts has a level switch, a scale and a monitor of the returned air beside two gates.
func withContacts(t *testing.T) *bench {
	c := twoGates()
	c.Contacts = []*shop.Contact{{Name: "level", Tells: shop.BinFull}, {Name: "lamp", Tells: shop.DustInReturn}}
	c.Sensors = append(c.Sensors, &shop.Sensor{Name: "scale", Measures: shop.BinWeight, Full: 60})
	b := newBench(t, c)
	b.noise = 0
	b.put("contact/level", 0)
	b.put("contact/lamp", 0)
	b.shut()
	return b
}

// told takes the runs of contacts out of what was made, and lets the rest go.
func (b *bench) told() (out []Run) {
	for _, r := range b.runs {
		if r.Kind == Contact {
			out = append(out, r)
		}
	}
	b.runs = nil
	return out
}

func TestALevelSwitchIsToldOnceItStands(t *testing.T) {
	b := withContacts(t)
	b.sample(100*time.Second, -2500, 90)
	assert.Empty(t, b.told(), "nothing is the matter")
	b.put("contact/level", 1)
	b.sample(59*time.Second, -2500, 90)
	b.put("contact/level", 0) // a chip
	b.sample(2*time.Second, -2500, 90)
	b.put("contact/level", 1)
	closed := b.now
	b.sample(59*time.Second, -2500, 90)
	assert.Empty(t, b.told())
	b.sample(300*time.Second, -2500, 90)
	runs := b.told()
	require.Len(t, runs, 1, "once")
	assert.Equal(t, time.Minute, runs[0].End-runs[0].Start)
	assert.Equal(t, monday.Add(closed+time.Minute), runs[0].At)
	assert.Equal(t, "contact/level", runs[0].Channels[0].Channel)
	assert.Equal(t, 1.0, runs[0].Channels[0].Mean)

	b.put("contact/level", math.NaN()) // its wire is cut: nobody knows whether it was emptied
	b.sample(300*time.Second, -2500, 90)
	assert.Empty(t, b.told())
	b.put("contact/level", 0)
	b.sample(61*time.Second, -2500, 90)
	runs = b.told()
	require.Len(t, runs, 1)
	assert.Equal(t, 0.0, runs[0].Channels[0].Mean)
}

// TestContactsMoveNoRun: the stretch of steady air goes on.
func TestContactsMoveNoRun(t *testing.T) {
	b := withContacts(t)
	b.sample(100*time.Second, -2500, 90)
	b.put("contact/level", 1)
	b.sample(100*time.Second, -2500, 90)
	b.put("main/fan", 0)
	r := b.runs[len(b.runs)-1]
	assert.Equal(t, Closed, r.Kind)
	assert.Equal(t, 200*time.Second, r.End-r.Start)
}

// TestAScaleIsFullAndEmptied: it is emptied well below its full weight only.
func TestAScaleIsFullAndEmptied(t *testing.T) {
	b := withContacts(t)
	for _, c := range []struct {
		kg   float64
		told []float64
	}{{30, nil}, {59.9, nil}, {61, []float64{61}}, {57, nil}, {61, nil}, {53, []float64{53}}, {59, nil}} {
		for range 130 {
			b.pass(time.Second)
			b.put("main/scale", c.kg)
		}
		var got []float64
		for _, r := range b.told() {
			require.Equal(t, "main/scale", r.Channels[0].Channel)
			assert.Equal(t, c.kg >= 60, Closes(r.Channels[0].Mean, 60))
			got = append(got, r.Channels[0].Mean)
		}
		assert.Equal(t, c.told, got, "%v kg", c.kg)
	}
}

// TestDustCountsWhileTheFanRuns: what a monitor says in still air is nothing, and puffs are one matter.
func TestDustCountsWhileTheFanRuns(t *testing.T) {
	b := withContacts(t)
	b.put("main/fan", 0)
	b.put("contact/lamp", 1)
	b.sample(10*time.Minute, 0, 0)
	assert.Empty(t, b.told())
	b.put("main/fan", 1)
	b.sample(29*time.Second, -2500, 90)
	assert.Empty(t, b.told())
	b.sample(2*time.Second, -2500, 90)
	require.Len(t, b.told(), 1)
	for range 5 {
		b.put("contact/lamp", 0)
		b.sample(9*time.Minute, -2500, 90)
		b.put("contact/lamp", 1)
		b.sample(time.Minute, -2500, 90)
	}
	b.put("contact/lamp", 0)
	b.sample(9*time.Minute, -2500, 90)
	assert.Empty(t, b.told())
	b.sample(2*time.Minute, -2500, 90)
	require.Len(t, b.told(), 1)
}

// TestWhatWasToldIsRemembered: over a restart a contact that still stands is no news, and one that moved is.
func TestWhatWasToldIsRemembered(t *testing.T) {
	b := withContacts(t)
	b.put("contact/level", 1)
	b.sample(61*time.Second, -2500, 90)
	full := b.told()
	require.Len(t, full, 1)
	for _, moved := range []bool{false, true} {
		again := withContacts(t)
		again.f.Restore(&full[0])
		again.boot = 2
		if !moved {
			again.put("contact/level", 1)
		} else {
			again.put("contact/level", 0)
		}
		again.sample(61*time.Second, -2500, 90)
		assert.Len(t, again.told(), map[bool]int{false: 0, true: 1}[moved])
	}
}
