package steady

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/reading"
	"ductward/internal/shop"
)

// wild is a reading that must not reach a mean.
const wild = -90_000.0

// TestWhatIsNotSteadyIsLeftOut: the settling after a change and the moments before the next one say nothing of either
// state.
func TestWhatIsNotSteadyIsLeftOut(t *testing.T) {
	for _, c := range []struct {
		name    string
		channel string
		value   float64
	}{
		{"gate opens", "gate/planer", 1},
		{"gate is not known any more", "gate/planer", math.NaN()},
		{"fan stops", "main/fan", 0},
		{"fan is not known any more", "main/fan", math.NaN()},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t, twoGates())
			b.shut()
			b.put("gate/saw", 1)
			b.sample(19*time.Second, wild, wild) // settling
			b.sample(100*time.Second, -1500, 600)
			b.sample(3*time.Second, wild, wild) // the gate is on its way, or the wheel slows down
			b.put(c.channel, c.value)
			r := b.one()
			assert.Equal(t, Running, r.Kind)
			assert.Equal(t, []string{"saw"}, r.Open)
			assert.Equal(t, 122*time.Second, r.End-r.Start)
			assert.Equal(t, monday.Add(122*time.Second), r.At)
			require.Len(t, r.Channels, 3)
			assert.Equal(t, "main/filter", r.Channels[0].Channel, "by channel")
			trunk := of(t, r, "main/trunk")
			assert.InDelta(t, -1500, trunk.Mean, 0.6, "Pa")
			assert.Equal(t, 100, trunk.N)
			assert.InDelta(t, 1, trunk.SD, 0.25, "Pa")
			assert.Negative(t, trunk.ZeroAge, "never zeroed")
			assert.Equal(t, 291.0, of(t, r, "main/room").Mean, "K")
			assert.Zero(t, of(t, r, "main/room").SE)
		})
	}
}

func TestTooShortAStretchIsNoRun(t *testing.T) {
	b := newBench(t, twoGates())
	b.shut()
	b.sample(29*time.Second, -2500, 90) // 9 s of them steady
	b.put("gate/saw", 1)
	assert.Empty(t, b.runs)
	b.sample(31*time.Second, -1500, 600)
	b.put("gate/saw", 0)
	assert.Equal(t, []string{"saw"}, b.one().Open)
}

// TestAGateThatChatters: each bounce is a change, so that nothing is told until it rests; the fan's hours go on.
func TestAGateThatChatters(t *testing.T) {
	b := newBench(t, twoGates())
	b.shut()
	for i := range 60 {
		b.sample(4*time.Second, wild, wild)
		b.put("gate/saw", float64(1-i%2))
	}
	assert.Empty(t, b.runs)
	b.sample(60*time.Second, -2500, 90)
	b.put("main/fan", 0)
	assert.Equal(t, Closed, b.one().Kind)
	assert.InDelta(t, 300.0/3600, b.runs[0].FanHours, 1e-12, "the chatter's 240 s are told with the run's 60 s")
}

// TestARepeatedPositionEndsNothing: switches are told again and again by some boards.
func TestARepeatedPositionEndsNothing(t *testing.T) {
	b := newBench(t, twoGates())
	b.shut()
	for range 30 {
		b.sample(4*time.Second, -2500, 90)
		b.shut()
	}
	assert.Empty(t, b.runs)
}

func TestWhatARunIsGoodFor(t *testing.T) {
	hose := func(gates ...*shop.Gate) *shop.Collector {
		c := twoGates()
		c.Machines = []*shop.Machine{{Name: "saw"}, {Name: "sander"}, {Name: "grinder"}}
		c.Gates = append(c.Gates, gates...)
		c.Selectors = []*shop.Selector{{Name: "hose", Hose: true, Ports: []string{"sander", "grinder"}}}
		return c
	}
	for _, c := range []struct {
		name string
		c    *shop.Collector
		set  map[string]float64
		want Kind
	}{
		{"all shut", twoGates(), nil, Closed},
		{"one open", twoGates(), map[string]float64{"gate/planer": 1}, Running},
		{"one not known", twoGates(), map[string]float64{"gate/planer": math.NaN()}, Unknown},
		{"one open, one not known", twoGates(), map[string]float64{"gate/saw": 1, "gate/planer": math.NaN()}, Unknown},
		{"selector not known", hose(), nil, Unknown},
		{"a hose without a gate draws air", hose(), map[string]float64{"selector/hose": 2}, Running},
		{"a hose behind a shut gate", hose(&shop.Gate{Name: "hose"}), map[string]float64{"selector/hose": 2, "gate/hose": 0}, Closed},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t, c.c)
			b.shut()
			for ch, v := range c.set {
				b.put(ch, v)
			}
			b.sample(time.Minute, -2000, 300)
			b.put("main/fan", 0)
			assert.Equal(t, c.want, b.one().Kind)
		})
	}
}

// TestAGateThatWasNeverTold is not taken for a shut one; one that never moves needs no telling.
func TestAGateThatWasNeverTold(t *testing.T) {
	c := twoGates()
	b := newBench(t, c)
	b.put("main/fan", 1)
	b.put("gate/saw", 0)
	b.sample(time.Minute, -2000, 300)
	b.put("main/fan", 0)
	assert.Equal(t, Unknown, b.one().Kind)

	c.Gates[1].Position = &shop.Source{Kind: shop.SourceFixed, Fixed: true}
	b = newBench(t, c)
	b.put("main/fan", 1)
	b.put("gate/saw", 0)
	b.sample(time.Minute, -2000, 300)
	b.put("main/fan", 0)
	assert.Equal(t, Running, b.one().Kind)
	assert.Equal(t, []string{"planer"}, b.runs[0].Open)
}

// TestADrawnMachineWithoutAGate keeps the ducts from being closed, a valve shuts it off.
func TestADrawnMachineWithoutAGate(t *testing.T) {
	c := twoGates()
	c.Machines = []*shop.Machine{{Name: "saw"}, {Name: "sweep"}}
	c.Selectors = []*shop.Selector{{Name: "valve", Ports: []string{"sweep line", "other line"}}}
	c.Network = &shop.Network{Runs: []*shop.Run{
		{Name: "saw line", From: shop.End{Kind: shop.EndMachine, Name: "saw"}, To: shop.End{Kind: shop.EndCollector}, Gate: "saw"},
		{Name: "sweep line", From: shop.End{Kind: shop.EndMachine, Name: "sweep"}, To: shop.End{Kind: shop.EndSelector, Name: "valve"}},
		{Name: "out", From: shop.End{Kind: shop.EndSelector, Name: "valve"}, To: shop.End{Kind: shop.EndCollector}},
	}}
	require.Empty(t, c.MachineGates("sweep"))
	for port, want := range map[float64]Kind{1: Running, 2: Closed, 0: Closed} {
		b := newBench(t, c)
		b.shut()
		b.put("selector/valve", port)
		b.sample(time.Minute, -2000, 300)
		b.put("main/fan", 0)
		assert.Equal(t, want, b.one().Kind, "port %v", port)
		assert.Equal(t, []Port{{Selector: "valve", Port: int(port)}}, b.runs[0].Ports)
	}
}

// TestTheFanIsToldByItsSuction where it has no switch. Its wheel slows down for most of a minute before the suction is
// gone, and none of that is a steady run.
func TestTheFanIsToldByItsSuction(t *testing.T) {
	c := twoGates()
	c.FanSwitch = nil
	b := newBench(t, c)
	b.put("gate/saw", 1)
	b.put("gate/planer", 0)
	b.sample(2*time.Minute, 3, 1)
	on, known := b.f.FanOn()
	assert.True(t, known)
	assert.False(t, on)
	b.sample(100*time.Second, -2000, 600)
	on, _ = b.f.FanOn()
	assert.True(t, on)
	for s := range 40 { // e-fold in 9 s
		p := math.Exp(-float64(s+1) / 9)
		b.sample(time.Second, -2000*p, 600*p)
	}
	on, _ = b.f.FanOn()
	assert.False(t, on)
	r := b.one()
	assert.Equal(t, Running, r.Kind)
	assert.InDelta(t, -2000, of(t, r, "main/trunk").Mean, 0.5, "Pa")
	assert.InDelta(t, 100.0/3600, r.FanHours, 41.0/3600)

	b.sample(4*time.Minute, -40, 15)
	on, _ = b.f.FanOn()
	assert.False(t, on, "a draught of 40 Pa is not a fan")
}

// TestANewFanSpeedKeepsTheFanOn: between the two bounds the fan is what it was.
func TestANewFanSpeedKeepsTheFanOn(t *testing.T) {
	c := twoGates()
	c.FanSwitch = nil
	b := newBench(t, c)
	b.sample(5*time.Second, -40, 15)
	_, known := b.f.FanOn()
	assert.False(t, known)
	b.sample(5*time.Second, -70, 15)
	b.sample(5*time.Second, -40, 15)
	on, _ := b.f.FanOn()
	assert.True(t, on)
}

// TestOtherReadingsAreNothingToTheFold: late ones, those of another collector, and numbers that are none.
func TestOtherReadingsAreNothingToTheFold(t *testing.T) {
	b := newBench(t, twoGates())
	b.shut()
	b.sample(30*time.Second, -2000, 300)
	for range 30 {
		b.sample(time.Second, -2000, 300)
		b.put("other/trunk", wild)
		b.put("other/fan", 0)
		b.put("gate/elsewhere", 1)
		b.put("main/trunk", math.NaN())
		b.put("main/trunk", math.Inf(1))
		b.give(reading.Reading{Channel: "main/trunk", Value: wild, Quality: reading.Late})
		b.give(reading.Reading{Channel: "gate/saw", Value: 1, Quality: reading.Late})
	}
	b.put("main/fan", 0)
	r := b.one()
	assert.Equal(t, Closed, r.Kind)
	assert.InDelta(t, -2000, of(t, r, "main/trunk").Mean, 1)
	assert.Equal(t, 60-19-3, of(t, r, "main/trunk").N)
}

// TestSilenceEndsAStretch: nobody knows what happened meanwhile.
func TestSilenceEndsAStretch(t *testing.T) {
	b := newBench(t, twoGates())
	b.shut()
	b.sample(2*time.Minute, -2000, 300)
	b.pass(4 * time.Minute)
	b.sample(2*time.Minute, -2100, 310)
	r := b.one()
	assert.Equal(t, 2*time.Minute, r.End)
	assert.Equal(t, monday.Add(2*time.Minute), r.At)
	assert.InDelta(t, 120.0/3600, r.FanHours, 1e-12, "silence is not counted")
	b.put("main/fan", 0)
	require.Len(t, b.runs, 2)
	assert.InDelta(t, -2100, of(t, b.runs[1], "main/trunk").Mean, 0.5)
	assert.InDelta(t, 119.0/3600, b.runs[1].FanHours, 1e-12)
}

// TestANewBoot ends the stretch, and does not date its own runs by the old one's clock.
func TestANewBoot(t *testing.T) {
	b := newBench(t, twoGates())
	b.shut()
	b.sample(2*time.Minute, -2000, 300)
	b.boot, b.mono, b.clock = 2, 5*time.Second, false
	b.sample(2*time.Minute, -2100, 310)
	r := b.one()
	assert.Equal(t, uint32(1), r.Boot)
	assert.Equal(t, 2*time.Minute, r.End)
	assert.Equal(t, monday.Add(2*time.Minute), r.At)
	b.put("main/fan", 0)
	require.Len(t, b.runs, 2)
	assert.Equal(t, uint32(2), b.runs[1].Boot)
	assert.True(t, b.runs[1].At.IsZero(), "not placed: %v", b.runs[1].At)
	assert.Equal(t, 6*time.Second, b.runs[1].Start)
}

// TestALongStretchIsCutByTheHour without losing what was read at the cut.
func TestALongStretchIsCutByTheHour(t *testing.T) {
	b := newBench(t, twoGates())
	b.shut()
	b.sample(150*time.Minute, -2000, 300)
	b.put("gate/saw", 1)
	require.Len(t, b.runs, 3)
	n := 0
	for i, r := range b.runs {
		assert.Equal(t, time.Duration(i)*time.Hour, r.Start)
		n += of(t, r, "main/trunk").N
	}
	assert.InDelta(t, 1, b.runs[0].FanHours, 1e-12)
	assert.InDelta(t, 0.5, b.runs[2].FanHours, 1e-12)
	assert.Equal(t, 150*60-19-3, n, "every sample but those at the two ends")
}

// TestACutJustBeforeAChange leaves no run of a few samples.
func TestACutJustBeforeAChange(t *testing.T) {
	b := newBench(t, twoGates())
	b.shut()
	b.sample(time.Hour+5*time.Second, -2000, 300)
	b.put("gate/saw", 1)
	assert.Len(t, b.runs, 1)
}

func TestFlushEndsWhatGoesOn(t *testing.T) {
	b := newBench(t, twoGates())
	assert.Empty(t, b.f.Flush())
	_, ok := b.f.Open()
	assert.False(t, ok)
	b.shut()
	b.sample(time.Minute, -2000, 300)
	got := b.f.Flush()
	require.Len(t, got, 1)
	assert.Equal(t, time.Minute, got[0].End)
	assert.Empty(t, b.f.Flush())
}
