package rig

import (
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c"

	"ductward/internal/clock"
	"ductward/internal/plant"
)

// slow is a clock on which sleep takes time, so that conversions do.
type slow struct{ *clock.Virtual }

// Sleep moves the clock.
func (s slow) Sleep(d time.Duration) { s.Advance(d) }

// onSlowClock returns the demonstration's bus on such a clock, with perfect sensors and the fan off.
func onSlowClock(t *testing.T) (i2c.Bus, *Rig, *plant.Plant, slow) {
	t.Helper()
	s := demo(t)
	p, err := plant.New(s.Collectors[0], s.Site, plant.Exact())
	require.NoError(t, err)
	clk := slow{clock.NewVirtual(demoStart)}
	r, err := New(map[string]*plant.Plant{"main": p}, s, clk)
	require.NoError(t, err)
	bus, err := r.I2C("1")
	require.NoError(t, err)
	return bus, r, p, clk
}

// TestABP2ByteForByte: no pressure on a two-sided part is the middle of 10 % and 90 % of 2^24, 8 388 608 counts; its die
// is 1.5 K over the room's 18 °C, (19.5+50)/200 of 2^24−1, 5 830 082 counts. Honeywell 32350268, transfer function.
func TestABP2ByteForByte(t *testing.T) {
	bus, _, _, clk := onSlowClock(t)
	frame := make([]byte, 8)
	require.NoError(t, bus.Tx(0x28, []byte{0xAA, 0, 0}, nil))
	require.NoError(t, bus.Tx(0x28, nil, frame[:1]))
	assert.Equal(t, byte(0x60), frame[0], "busy")
	clk.Advance(5 * time.Millisecond)
	require.NoError(t, bus.Tx(0x28, nil, frame))
	assert.Equal(t, []byte{0x40, 0x80, 0x00, 0x00, 0x58, 0xF5, 0xC2, 0xFF}, frame, "and one byte that nobody drives")
}

// TestABP2Pressure: −1000 Pa on a part of ±4 kPa is 10 % + 80 %·3/8 of 2^24, 6 710 886 counts.
func TestABP2Pressure(t *testing.T) {
	d := &abp2{low: -4000, high: 4000}
	_, _, p, _ := onSlowClock(t)
	d.probe = probe{tap: p.Tap("main/trunk static"), plant: p}
	p.SetZero("main/trunk static", -1000)
	d.convert(0)
	assert.Equal(t, []byte{0x66, 0x66, 0x66}, d.frame[1:4])
	d.probe.swapped = true
	d.convert(0)
	assert.Equal(t, []byte{0x99, 0x99, 0x9A}, d.frame[1:4], "the tubes the other way round")
}

// TestSDP8xxByteForByte goes through the part's states. The checksum's example in the datasheet is CRC(0xBEEF) = 0x92.
func TestSDP8xxByteForByte(t *testing.T) {
	assert.Equal(t, byte(0x92), crc(0xBE, 0xEF))
	bus, _, p, clk := onSlowClock(t)
	frame := make([]byte, 9)
	assert.ErrorIs(t, bus.Tx(0x25, nil, frame), errNACK, "an idle part answers no read")
	assert.ErrorIs(t, bus.Tx(0x25, []byte{0x3F, 0xF9}, nil), errNACK, "nor stop")
	require.NoError(t, bus.Tx(0x25, []byte{0x36, 0x7C}, nil))
	require.NoError(t, bus.Tx(0x25, []byte{0xE1, 0x02}, nil))
	id := make([]byte, 18)
	require.NoError(t, bus.Tx(0x25, nil, id))
	assert.Equal(t, []byte{0x03, 0x02}, id[:2], "SDP8xx")
	require.NoError(t, bus.Tx(0x25, []byte{0x36, 0x15}, nil))
	assert.ErrorIs(t, bus.Tx(0x25, nil, frame), errNACK, "the first result takes 8 ms")
	assert.ErrorIs(t, bus.Tx(0x25, []byte{0x36, 0x15}, nil), errNACK, "and a part at work takes no command but stop")
	clk.Advance(8 * time.Millisecond)
	// 100 Pa at the pressure of its calibration, 966 mbar, are 6000 counts of 1/60 Pa; 18 °C are 3600 counts of 1/200 K.
	p.SetZero("main/trunk velocity", 100)
	p.SetAir(plant.Weather{Temperature: 291.15, Pressure: 96600, Humidity: 0.5})
	require.NoError(t, bus.Tx(0x25, nil, frame))
	assert.Equal(t, []byte{0x17, 0x70, crc(0x17, 0x70), 0x0E, 0x10, crc(0x0E, 0x10), 0x00, 60, crc(0, 60)}, frame)
	assert.ErrorIs(t, bus.Tx(0x25, nil, frame), errNACK, "the next takes half a millisecond")
	require.NoError(t, bus.Tx(0x25, []byte{0x3F, 0xF9}, nil))
}

// TestSDP8xxFeelsDenserAir: at sea level it reads 1013.25/966 of the pressure.
func TestSDP8xxFeelsDenserAir(t *testing.T) {
	_, _, p, _ := onSlowClock(t)
	d := &sdp8xx{scale: 60, probe: probe{tap: p.Tap("main/trunk velocity"), plant: p}}
	p.SetZero("main/trunk velocity", 100)
	p.SetAir(plant.Weather{Temperature: 291.15, Pressure: 101325, Humidity: 0.5})
	d.measure(0)
	assert.InDelta(t, 6000*1013.25/966, float64(int16(uint16(d.frame[0])<<8|uint16(d.frame[1]))), 0.51)
}

func TestAPartThatWasUnpluggedHasForgotten(t *testing.T) {
	bus, r, _, clk := onSlowClock(t)
	require.NoError(t, bus.Tx(0x25, []byte{0x36, 0x15}, nil))
	require.NoError(t, r.Unplug("main/trunk velocity"))
	require.NoError(t, r.Mend("main/trunk velocity"))
	clk.Advance(time.Second)
	assert.ErrorIs(t, bus.Tx(0x25, nil, make([]byte, 9)), errNACK, "it is idle after power-up")
}

func TestRegistersAllocateNothing(t *testing.T) {
	b := newBench(t, plant.DefaultOptions(seed))
	b.work(t)
	bus, err := b.I2C("1")
	require.NoError(t, err)
	command, frame := []byte{0xAA, 0, 0}, make([]byte, 9)
	allocated := testing.AllocsPerRun(1000, func() {
		b.clk.Advance(time.Second)
		_ = bus.Tx(0x28, command, nil)
		_ = bus.Tx(0x28, nil, frame[:7])
		_ = bus.Tx(0x25, nil, frame)
	})
	assert.Zero(t, allocated)
}

// TestManyHandsAtOnce reads pins, parts and topics from many goroutines while others break and mend them; the race
// detector judges it.
func TestManyHandsAtOnce(t *testing.T) {
	d, clk, _ := newDemo(t)
	goTo(clk, demoEnd.Add(-time.Hour))
	bus, err := d.I2C("1")
	require.NoError(t, err)
	pin, err := d.Pin("GPIO5")
	require.NoError(t, err)
	hands := []func(){
		func() { _ = bus.Tx(0x28, []byte{0xAA, 0, 0}, make([]byte, 7)) },
		func() { _ = bus.Tx(0x25, nil, make([]byte, 9)) },
		func() { pin.Read() },
		func() { d.Publish(func(string, []byte) {}) },
		func() { _ = d.Stick("gate/planer gate"); _ = d.Mend("gate/planer gate") },
		func() { _ = d.Unplug("main/air"); _ = d.Mend("main/air") },
		func() { _, _ = d.Truth("main"); d.NextMove() },
		func() { clk.Advance(17 * time.Second) },
	}
	var all sync.WaitGroup
	for _, h := range hands {
		all.Go(func() {
			for range 200 {
				h()
			}
		})
	}
	all.Wait()
	require.NoError(t, d.Advance())
}
