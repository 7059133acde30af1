package hardware

import (
	"strings"
	"testing"
	"time"

	"ductward/internal/reading"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpiotest"
)

func TestUnpluggedAndBack(t *testing.T) {
	b := newBench(t).open()
	bus := b.wires.plugBus("1")
	sdp := &thermal{product: 0x03020A01, counts: 6000, scale: 60}
	bus.plug(0x25, sdp)
	b.wantValue("main/velocity", 100*seaLevel)

	bus.unplug(0x25)
	first := b.wantFault("main/velocity", NotAnswering)
	b.clock.Advance(500 * time.Millisecond)
	before := bus.transfers()
	assert.Same(t, first, b.wantFault("main/velocity", NotAnswering))
	assert.Equal(t, before, bus.transfers(), "it rests before it asks again")

	*sdp = thermal{product: 0x03020A01, counts: -6000, scale: 60} // lost its supply
	bus.plug(0x25, sdp)
	b.clock.Advance(500 * time.Millisecond)
	b.wantValue("main/velocity", -100*seaLevel)
	assert.Equal(t, 1, sdp.starts, "it was set up again")
	assert.Empty(t, b.set.Faults())
	assert.Equal(t, 1, strings.Count(b.log.String(), `msg="no value"`), b.log.String())
	assert.Equal(t, 1, strings.Count(b.log.String(), `msg="value is back"`))
}

// TestBackoff: a part that is away for long is asked ever more seldom, at least every half minute, and told in the log
// once an hour.
func TestBackoff(t *testing.T) {
	b := newBench(t).open()
	bus := b.wires.plugBus("1")
	var asked []time.Duration
	for range 3*3600 + 1 {
		before := bus.transfers()
		b.wantFault("main/filter drop", NotAnswering)
		if bus.transfers() != before {
			asked = append(asked, b.clock.Mono())
		}
		b.clock.Advance(time.Second)
	}
	want := []time.Duration{0, 1, 3, 7, 15, 31, 61, 91}
	for i, w := range want {
		assert.Equal(t, w*time.Second-want[0], asked[i], "attempt %d", i)
	}
	assert.Equal(t, 1, strings.Count(b.log.String(), `msg="no value"`))
	assert.InDelta(t, 3, strings.Count(b.log.String(), "still no value"), 1)
	bus.plug(0x28, &membrane{status: 0x40, counts: 0x800000})
	b.clock.Advance(lastWait)
	_, _, err := b.poller("main/filter drop").Read()
	assert.NoError(t, err)
}

// TestOneBadSensorDelaysNoNeighbour: while one part of a bus is away, the other is read at every interval.
func TestOneBadSensorDelaysNoNeighbour(t *testing.T) {
	b := newBench(t).open()
	bus := b.wires.plugBus("1")
	bus.plug(0x28, &membrane{status: 0x40, counts: 0x900000})
	for range 100 {
		b.wantFault("main/velocity", NotAnswering)
		_, _, err := b.poller("main/filter drop").Read()
		require.NoError(t, err)
		b.clock.Advance(time.Second)
	}
}

func TestChipFaults(t *testing.T) {
	for _, c := range []struct {
		name    string
		channel string
		addr    uint16
		bad     part
		code    Code
	}{
		{"abp2 at the top", "main/filter drop", 0x28, &membrane{status: 0x40, counts: 0xF00000}, Saturated},
		{"abp2 at the bottom", "main/filter drop", 0x28, &membrane{status: 0x40, counts: 0x100000}, Saturated},
		{"abp2 latched up", "main/filter drop", 0x28, &membrane{status: 0x40, stuck: true}, LatchedUp},
		{"abp2 busy for ever", "main/filter drop", 0x28, &membrane{status: 0x60, counts: 0x800000}, Busy},
		{"abp2 with damaged memory", "main/filter drop", 0x28, &membrane{status: 0x44, counts: 0x800000}, ChipError},
		{"abp2 with saturated arithmetic", "main/filter drop", 0x28, &membrane{status: 0x41, counts: 0x800000}, Saturated},
		{"a status that no abp2 has", "main/filter drop", 0x28, &membrane{status: 0x1C, counts: 0x800000}, ChipError},
		{"sdp8xx at the top", "main/velocity", 0x25, &thermal{product: 0x03020A01, counts: 32767, scale: 60}, Saturated},
		{"sdp8xx at the bottom", "main/velocity", 0x25, &thermal{product: 0x03020A01, counts: -32768, scale: 60}, Saturated},
		{"sdp3x instead", "main/velocity", 0x25, &thermal{product: 0x03010101, scale: 60}, WrongChip},
		{"125 Pa part instead", "main/velocity", 0x25, &thermal{product: 0x03020B01, counts: 100, scale: 240}, WrongChip},
		{"no such scale", "main/velocity", 0x25, &thermal{product: 0x03020A01, counts: 100, scale: 7}, ChipError},
		{"damaged answers", "main/velocity", 0x25, &thermal{product: 0x03020A01, counts: 100, scale: 60, damage: 1000}, BadCRC},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t).open()
			bus := b.wires.plugBus("1")
			bus.plug(c.addr, c.bad)
			for range 3 {
				b.wantFault(c.channel, c.code)
				b.clock.Advance(time.Second)
			}
			// It comes back by itself, no later than after the longest rest.
			bus.plug(0x28, &membrane{status: 0x40, counts: 0xB33332})
			bus.plug(0x25, &thermal{product: 0x03020A01, counts: 6000, scale: 60})
			b.clock.Advance(lastWait)
			_, _, err := b.poller(c.channel).Read()
			assert.NoError(t, err)
			assert.Empty(t, b.set.Faults())
		})
	}
}

// TestPassingTrouble: a disturbance or two cost no reading, and a part that only missed a transfer goes on with the mean
// that it has gathered.
func TestPassingTrouble(t *testing.T) {
	b := newBench(t).open()
	chip := &thermal{product: 0x03020A01, counts: 6000, scale: 60}
	b.wires.plugBus("1").plug(0x25, chip)
	b.wantValue("main/velocity", 100*seaLevel)
	chip.damage = 2
	b.wantValue("main/velocity", 100*seaLevel)
	for range 10 {
		chip.deaf = 1
		b.wantValue("main/velocity", 100*seaLevel)
	}
	assert.Equal(t, 2, chip.starts, "once at the start, once for the two damaged answers in a row")
	assert.Empty(t, b.log.String())
}

// TestStuck: the same count again and again under pressure is no reading, until it moves.
func TestStuck(t *testing.T) {
	b := newBench(t).open()
	chip := &membrane{status: 0x40, counts: 0xB33333, stuck: true}
	b.wires.plugBus("1").plug(0x28, chip)
	for i := range stuckAfter {
		_, _, err := b.poller("main/filter drop").Read()
		require.NoError(t, err, "reading %d", i)
		b.clock.Advance(time.Second)
	}
	for range 100 {
		b.wantFault("main/filter drop", Stuck)
		b.clock.Advance(time.Second)
	}
	chip.counts += 5
	_, _, err := b.poller("main/filter drop").Read()
	require.NoError(t, err)
	assert.Empty(t, b.set.Faults())
}

// TestStillWhileTheFanIsOff: near zero a part may answer the same count all night.
func TestStillWhileTheFanIsOff(t *testing.T) {
	b := newBench(t).open()
	bus := b.wires.plugBus("1")
	bus.plug(0x28, &membrane{status: 0x40, counts: 0x810000, stuck: true}) // 24 Pa: a zero that is off by 1 % of the span
	bus.plug(0x25, &thermal{product: 0x03020A01, counts: 3, scale: 60})
	for range 10000 {
		b.wantValue("main/velocity", 0.05*seaLevel)
		_, _, err := b.poller("main/filter drop").Read()
		require.NoError(t, err)
		b.clock.Advance(time.Second)
	}
}

func TestNearAnEndIsUncertain(t *testing.T) {
	b := newBench(t).open()
	b.wires.plugBus("1").plug(0x28, &membrane{status: 0x40, counts: 0xE66660})
	_, q, err := b.poller("main/filter drop").Read()
	require.NoError(t, err)
	assert.Equal(t, reading.Uncertain, q)
}

func TestChatteringSwitch(t *testing.T) {
	b := newBench(t).open()
	pin := &gpiotest.Pin{N: "GPIO22"}
	b.wires.pins["GPIO22"] = pin
	var err error
	for i := range 12 {
		require.NoError(t, pin.Out(gpio.Level(i%2 == 0)))
		_, _, err = b.poller("gate/saw").Read()
		b.clock.Advance(switchInterval)
	}
	require.Error(t, err)
	b.wantFault("gate/saw", Chattering)
	b.clock.Advance(20 * time.Second)
	b.wantValue("gate/saw", 0)
}
