package live

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/hardware"
	"ductward/internal/reading"
	"ductward/internal/shop"
)

const (
	drop   = "main/filter drop"
	static = "main/trunk static"
)

// TestEverySensorOfASoundShop: with the fan running each has its value, its noise and its raw count, and nothing is to be
// said about any.
func TestEverySensorOfASoundShop(t *testing.T) {
	b := newBench(t, Unknown)
	b.pass(15 * time.Second)
	assert.Equal(t, Running, b.watch.Fan("main"))
	for _, r := range b.watch.Rows() {
		assert.Equal(t, Good, r.Health.State, "%s: %s", r.Channel, r.Health.Text)
		assert.NotEmpty(t, r.Where, r.Channel)
		assert.NotEmpty(t, r.Raw, r.Channel)
	}
	s := b.row(static)
	assert.Less(t, s.Mean, -500.0)
	assert.Greater(t, s.Noise, quiet)
	assert.Equal(t, 31, s.Samples, "a sample at once and two a second")
	assert.Equal(t, "Pa", s.Unit)
	assert.Zero(t, s.Zeros, "the fan runs, so nothing is a zero")
	assert.Empty(t, b.row("main/fan").Unit)
}

// TestZeroIsTakenOnlyWhenTheFanHasComeToRest: a fan that is seen to stop runs on for a minute.
func TestZeroIsTakenOnlyWhenTheFanHasComeToRest(t *testing.T) {
	b := newBench(t, Unknown)
	b.pass(5 * time.Second)
	b.rig.SetFans(false)
	b.pass(59 * time.Second)
	assert.Equal(t, Standing, b.watch.Fan("main"))
	assert.Zero(t, b.row(static).Zeros)
	b.pass(20 * time.Second)
	s := b.row(static)
	assert.Greater(t, s.Zeros, 30)
	assert.InDelta(t, 0, s.Zero, 20, "a sound part")
	assert.Equal(t, Good, s.Health.State, s.Health.Text)

	b.rig.SetFans(true)
	b.pass(10 * time.Second)
	assert.InDelta(t, s.Zero, b.row(static).Zero, 1, "nothing of the start, whose pressure comes before the news of it, got in")
}

// TestZeroAtOnceWhereThePersonSaysThatTheFanStands.
func TestZeroAtOnceWhereThePersonSaysThatTheFanStands(t *testing.T) {
	b := newBench(t, Standing)
	b.rig.SetFans(false)
	b.clock.Advance(time.Minute)
	b.pass(4 * time.Second)
	assert.Equal(t, 5, b.row(static).Zeros)
	b.watch.Say(Running)
	assert.Zero(t, b.row(static).Zeros, "what was seen before is forgotten")
}

// TestUnpluggedAndBack: a fault with its place and remedy and no number, and then numbers again.
func TestUnpluggedAndBack(t *testing.T) {
	b := newBench(t, Unknown)
	require.NoError(t, b.rig.Unplug(static))
	b.pass(5 * time.Second)
	s := b.row(static)
	assert.Equal(t, Faulty, s.Health.State)
	assert.Equal(t, string(hardware.NotAnswering), s.Health.Word)
	assert.Contains(t, s.Health.Text, "address 0x38")
	assert.Zero(t, s.Samples)
	assert.Equal(t, Good, b.row(drop).Health.State, "its neighbour on the bus goes on")
	require.NoError(t, b.rig.Mend(static))
	b.pass(40 * time.Second) // the wait between attempts doubles up to half a minute
	assert.Equal(t, Good, b.row(static).Health.State)
}

// TestJudge holds each thing that can be wrong with a pressure against its word.
func TestJudge(t *testing.T) {
	abp := shop.Source{Kind: shop.SourceI2C, Chip: "abp2", Span: 1000} // a zero of 15 Pa and 2 Pa of draught
	rows := []struct {
		name     string
		measures shop.Quantity
		fan      Fan
		atRest   bool
		v, step  float64 // samples go between v−step/2 and v+step/2
		word     string
	}{
		{"suction", shop.StaticPressure, Running, false, -800, 4, "good"},
		{"a drop", shop.FilterDrop, Running, false, 800, 4, "good"},
		{"suction with its tubes exchanged", shop.StaticPressure, Running, false, 800, 4, "wrong sign"},
		{"a drop with its tubes exchanged", shop.FilterDrop, Running, false, -800, 4, "wrong sign"},
		{"the same while nothing is known of the fan", shop.FilterDrop, Unknown, false, -800, 4, "good"},
		{"no wrong sign within what the zero may be off", shop.FilterDrop, Running, false, -16, 4, "no pressure"},
		{"nor within the noise", shop.VelocityPressure, Running, false, -18, 4, "good"},
		{"a tube is off", shop.StaticPressure, Running, false, 3, 1, "no pressure"},
		{"a tap is plugged", shop.StaticPressure, Running, false, -800, 0.05, "too quiet"},
		{"a sound zero", shop.FilterDrop, Standing, true, 16, 1, "good"},
		{"a zero that is off", shop.FilterDrop, Standing, true, 18, 1, "zero off"},
		{"pressure that is no zero yet", shop.FilterDrop, Standing, false, 400, 1, "good"},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			row := &row{channel: "main/x", collector: &shop.Collector{Name: "main"}, sensor: &shop.Sensor{Measures: r.measures}, source: &abp}
			for i := range window {
				row.take(r.v+r.step*(float64(i%2)-0.5), reading.Good, r.atRest)
			}
			assert.Equal(t, r.word, row.show(r.fan).Health.Word, row.show(r.fan).Health.Text)
		})
	}
}

// TestNoiseOfADriftIsNone: samples that rise by 1 Pa each have a noise of 1/√2 Pa, however far they come; and samples
// that alternate between 0 and 2 Pa one of √2.
func TestNoiseOfADriftIsNone(t *testing.T) {
	drift, swing := &row{sensor: &shop.Sensor{}}, &row{sensor: &shop.Sensor{}}
	for i := range 3 * window {
		drift.take(float64(i), reading.Good, false)
		swing.take(float64(i%2)*2, reading.Good, false)
	}
	mean, noise, n := drift.spread()
	assert.InDelta(t, 3*window-1-(window-1)/2.0, mean, 1e-9, "of the last samples")
	assert.InDelta(t, 0.7071, noise, 1e-4)
	assert.Equal(t, window, n)
	_, noise, _ = swing.spread()
	assert.InDelta(t, 1.4142, noise, 1e-4)
}
