package rig

import (
	"io"
	"log/slog"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/hardware"
	"ductward/internal/clock"
	"ductward/internal/plant"
	"ductward/internal/shop"
)

// seed is that of every plant here.
const seed = 11

// The rig stands in for a board and for a broker.
var (
	_ hardware.Buses    = (*Rig)(nil)
	_ hardware.Payloads = (*Rig)(nil)
)

// quiet throws logs away.
var quiet = slog.New(slog.NewTextHandler(io.Discard, nil))

// demo returns the demonstration's shop.
func demo(t testing.TB) *shop.Shop {
	t.Helper()
	s, problems := shop.Parse("shop.yaml", DemoShop())
	for _, p := range problems {
		require.True(t, p.Warning, "%v", p)
	}
	return s
}

// bench is a rig with its one plant, on a virtual clock, and the pollers that read it.
type bench struct {
	*Rig
	plant *plant.Plant
	clk   *clock.Virtual
	set   *hardware.Set
}

// newBench wires the demonstration's shop to a plant with the given errors.
func newBench(t testing.TB, o plant.Options) *bench {
	t.Helper()
	s := demo(t)
	p, err := plant.New(s.Collectors[0], s.Site, o)
	require.NoError(t, err)
	b := &bench{plant: p, clk: clock.NewVirtual(time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC))}
	b.Rig, err = New(map[string]*plant.Plant{"main": p}, s, b.clk)
	require.NoError(t, err)
	b.set, err = hardware.Open(s, b.Rig, b.clk, quiet)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, b.set.Close()) })
	return b
}

// poller returns the poller of a channel.
func (b *bench) poller(t testing.TB, channel string) hardware.Poller {
	t.Helper()
	for _, p := range b.set.Pollers() {
		if p.Channel() == channel {
			return p
		}
	}
	require.Fail(t, "no poller", "channel %q", channel)
	return nil
}

// value reads a channel that must have a value.
func (b *bench) value(t testing.TB, channel string) float64 {
	t.Helper()
	v, _, err := b.poller(t, channel).Read()
	require.NoError(t, err)
	return v
}

// code reads a channel that must have none, and returns the fault's code.
func (b *bench) code(t testing.TB, channel string) hardware.Code {
	t.Helper()
	v, _, err := b.poller(t, channel).Read()
	var f *hardware.Fault
	require.ErrorAs(t, err, &f)
	assert.True(t, math.IsNaN(v), "a fault carries no number")
	return f.Code
}

// work opens a gate and lets the fan run until all is settled.
func (b *bench) work(t testing.TB) {
	t.Helper()
	b.plant.SetFan(true)
	require.NoError(t, b.plant.SetGate("planer gate", true))
	for range 25 { // fewer than the repeats after which a part without noise counts as stuck
		b.clk.Advance(time.Second)
		for _, c := range b.plant.Channels() {
			_, _, _ = b.poller(t, c).Read()
		}
	}
}

// TestDriversReadTheTruth: with perfect sensors, what the drivers decode is what the plant holds, to a few counts. An
// ABP2 of ±4 kPa has 0.0006 Pa a count, an SDP8xx 0.0167 Pa; the velocity pressure is corrected by the standard
// atmosphere at the shop's altitude, which is the plant's air too.
func TestDriversReadTheTruth(t *testing.T) {
	b := newBench(t, plant.Exact())
	b.work(t)
	tolerance := map[string]float64{"main/filter drop": 0.002, "main/trunk static": 0.002, "main/trunk velocity": 0.02, "main/air": 1e-4}
	for _, c := range b.plant.Channels() {
		assert.InDelta(t, b.plant.Mean(c), b.value(t, c), tolerance[c], "%s, SI", c)
	}
	assert.Less(t, b.plant.Mean("main/trunk static"), -1000.0, "Pa: the fan runs")
	assert.Greater(t, b.plant.Mean("main/filter drop"), 100.0, "Pa")
}

func TestSwitchesFollowTheGates(t *testing.T) {
	b := newBench(t, plant.Exact())
	settle := func() {
		for range 3 {
			b.clk.Advance(time.Second)
			for _, p := range b.set.Pollers() {
				_, _, _ = p.Read()
			}
		}
	}
	settle()
	channels := []string{"gate/planer gate", "gate/mortiser gate", "main/fan", "selector/moulder hose"}
	for _, c := range channels {
		assert.Zero(t, b.value(t, c), c)
	}
	require.NoError(t, b.plant.SetGate("planer gate", true))
	require.NoError(t, b.plant.SetGate("mortiser gate", true))
	require.NoError(t, b.plant.SetPort("moulder hose", 2))
	b.plant.SetFan(true)
	settle()
	for i, want := range []float64{1, 1, 1, 2} {
		assert.Equal(t, want, b.value(t, channels[i]), channels[i])
	}
}

func TestFaultsAreToldAndMended(t *testing.T) {
	cases := []struct {
		channel string
		fail    func(*Rig, string) error
		want    hardware.Code
		reads   int // until it shows
	}{
		{"main/filter drop", (*Rig).Unplug, hardware.NotAnswering, 1},
		{"main/trunk velocity", (*Rig).Unplug, hardware.NotAnswering, 1},
		{"main/trunk velocity", (*Rig).CorruptCRC, hardware.BadCRC, 1},
		{"main/trunk static", (*Rig).Saturate, hardware.Saturated, 1},
		{"main/trunk velocity", (*Rig).Saturate, hardware.Saturated, 1},
		{"main/trunk static", (*Rig).LatchUp, hardware.LatchedUp, 1},
		{"main/trunk static", (*Rig).Stick, hardware.Stuck, 40},
		{"main/trunk velocity", (*Rig).Stick, hardware.Stuck, 40},
		{"main/air", (*Rig).Unplug, hardware.Stale, 1},
	}
	for _, c := range cases {
		t.Run(c.channel+" "+string(c.want), func(t *testing.T) {
			b := newBench(t, plant.DefaultOptions(seed))
			b.work(t)
			require.NoError(t, c.fail(b.Rig, c.channel))
			for range c.reads {
				b.clk.Advance(time.Second)
				_, _, _ = b.poller(t, c.channel).Read()
			}
			assert.Equal(t, c.want, b.code(t, c.channel))
			require.NoError(t, b.Mend(c.channel))
			for range 5 {
				b.clk.Advance(time.Minute)
				_, _, _ = b.poller(t, c.channel).Read()
			}
			assert.InEpsilon(t, b.plant.Mean(c.channel), b.value(t, c.channel), 0.3, "a mended channel reads again")
		})
	}
}

func TestFaultsThatCannotBe(t *testing.T) {
	b := newBench(t, plant.Exact())
	assert.ErrorContains(t, b.CorruptCRC("main/filter drop"), "no checksum")
	assert.ErrorContains(t, b.Saturate("gate/planer gate"), "cut off, stick or chatter")
	assert.ErrorContains(t, b.Chatter("main/air"), "can only fall silent or stick")
	assert.ErrorContains(t, b.Unplug("main/nothing"), "no wire")
	assert.ErrorContains(t, b.Mend("main/nothing"), "no wire")
}

func TestWiresThatAreNotThere(t *testing.T) {
	b := newBench(t, plant.Exact())
	_, err := b.I2C("7")
	require.ErrorContains(t, err, `"7"`)
	_, err = b.Pin("GPIO99")
	require.ErrorContains(t, err, "GPIO99")
	bus, err := b.I2C("/dev/i2c-1")
	require.NoError(t, err, "a bus has two names")
	assert.ErrorIs(t, bus.Tx(0x50, []byte{0}, nil), errNACK)
	_, ok := b.Payload("shop/nothing")
	assert.False(t, ok)
}

func TestPublishedPayloads(t *testing.T) {
	b := newBench(t, plant.Exact())
	got := map[string]string{}
	b.Publish(func(topic string, payload []byte) { got[topic] = string(payload) })
	assert.Equal(t, map[string]string{
		"shop/moulder-corner/mortiser-gate": "0",
		"shop/moulder-corner/hose":          "0",
		"shop/moulder-corner/air":           `{"temperature":18}`,
	}, got)
}

// BenchmarkPoll is one second of a watch: every sensor that is read each second, through its driver.
func BenchmarkPoll(b *testing.B) {
	w := newBench(b, plant.DefaultOptions(seed))
	w.work(b)
	var pollers []hardware.Poller
	for _, c := range []string{"main/filter drop", "main/trunk static", "main/trunk velocity"} {
		pollers = append(pollers, w.poller(b, c))
	}
	b.ReportAllocs()
	for b.Loop() {
		w.clk.Advance(time.Second)
		for _, p := range pollers {
			if _, _, err := p.Read(); err != nil {
				b.Fatal(err)
			}
		}
	}
}
