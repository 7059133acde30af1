package dlh

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c/i2ctest"
)

func noSleep(time.Duration) {}

func frame(status byte, pressure, temperature uint32) Frame {
	return Frame{status, byte(pressure >> 16), byte(pressure >> 8), byte(pressure), byte(temperature >> 16), byte(temperature >> 8), byte(temperature)}
}

// TestDecode: ends, zero and both signs. 2^23 is the middle; 10 % of 2^24 is 1 677 721.6.
func TestDecode(t *testing.T) {
	two, one := Range{Span: 2500}, Range{Span: 1000, OneSided: true}
	rows := []struct {
		name   string
		of     Range
		counts uint32
		want   float64
		err    error
		near   bool
	}{
		{"nothing", two, 1 << 23, 0, nil, false},
		{"70 % of the counts is half of the way up", two, 11744051, 1250, nil, false},
		{"30 % is half of the way down", two, 5033165, -1250, nil, false},
		{"just inside the upper end", two, OutputMax - 1, 2500, nil, true},
		{"the upper end", two, OutputMax, 0, ErrHigh, false},
		{"the lower end", two, OutputMin, 0, ErrLow, false},
		{"all bits", two, 0xFFFFFF, 0, ErrHigh, false},
		{"no bits", two, 0, 0, ErrLow, false},
		{"nothing, gauge", one, OutputMin, 0, nil, false},
		{"a zero that is off by 0.9 %, gauge", one, 1556926, -9, nil, false},
		{"half of it, gauge", one, 1 << 23, 500, nil, false},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			f := frame(0x40, r.counts, 8589935) // 64 °C over −40: 8 589 935·125/2^24 = 64.0
			s, err := r.of.Decode(&f)
			assert.Equal(t, r.err, err)
			assert.Equal(t, r.counts, s.Counts)
			assert.InDelta(t, r.want, s.Pressure, 0.01, "Pa")
			assert.Equal(t, r.near, s.NearEnd)
			if err == nil {
				assert.InDelta(t, 273.15+24, s.Temperature, 0.001)
			}
		})
	}
}

func TestStatusIsNoReading(t *testing.T) {
	for status, want := range map[byte]error{0x00: ErrStatus, 0xC0: ErrStatus, 0xFF: ErrStatus, 0x60: ErrBusy, 0x44: ErrMemory,
		0x42: ErrStatus, 0x41: ErrALU, 0x58: ErrStatus, 0x40: nil} {
		f := frame(status, 1<<23, 0)
		_, err := Range{Span: 2500}.Decode(&f)
		assert.Equal(t, want, err, "0x%02X", status)
	}
}

// TestRead by playback: the command for the mean of four, one answer that is busy, one that is not.
func TestRead(t *testing.T) {
	busy, ready := frame(0x60, 0, 0), frame(0x40, 11744051, 8589935)
	bus := &i2ctest.Playback{Ops: []i2ctest.IO{
		{Addr: 0x29, W: []byte{0xAD, 0, 0}},
		{Addr: 0x29, R: busy[:]},
		{Addr: 0x29, R: ready[:]},
	}}
	var slept time.Duration
	d := Dev{Bus: bus, Addr: Address, Range: Range{Span: 2500}, Sleep: func(s time.Duration) { slept += s }}
	s, err := d.Read()
	require.NoError(t, err)
	assert.InDelta(t, 1250, s.Pressure, 0.01)
	assert.Equal(t, 20*time.Millisecond, slept)
	require.NoError(t, bus.Close())
}

func TestReadGivesUpOnAPartThatStaysBusy(t *testing.T) {
	busy := frame(0x60, 0, 0)
	bus := &i2ctest.Playback{Ops: []i2ctest.IO{{Addr: 0x29, W: []byte{0xAD, 0, 0}}}}
	for range busyTries + 1 {
		bus.Ops = append(bus.Ops, i2ctest.IO{Addr: 0x29, R: busy[:]})
	}
	d := Dev{Bus: bus, Addr: Address, Sleep: noSleep}
	_, err := d.Read()
	assert.Equal(t, ErrBusy, err)
	require.NoError(t, bus.Close())
}

func TestBusThatDoesNotAnswer(t *testing.T) {
	d := Dev{Bus: &i2ctest.Playback{DontPanic: true}, Addr: Address, Sleep: noSleep}
	_, err := d.Read()
	var own Error
	assert.Error(t, err)
	assert.False(t, errors.As(err, &own), "the bus's own error")
}
