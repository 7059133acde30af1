package hsc

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c/i2ctest"
)

func noSleep(time.Duration) {}

// frame puts status, pressure and temperature counts where the technical note has them.
func frame(status byte, pressure, temperature uint16) Frame {
	return Frame{status<<6 | byte(pressure>>8), byte(pressure), byte(temperature >> 3), byte(temperature << 5)}
}

// TestDecode: ends, zero and both signs of a ±2500 Pa part. The middle of 1638 and 14746 is 8192, 2^13.
func TestDecode(t *testing.T) {
	two, one := Range{Span: 2500}, Range{Span: 2500, OneSided: true}
	rows := []struct {
		name   string
		of     Range
		counts uint16
		want   float64
		err    error
		near   bool
	}{
		{"nothing", two, 8192, 0, nil, false},
		{"half of it", two, 11469, 1250, nil, false},
		{"half of it the other way", two, 4915, -1250, nil, false},
		{"just inside the upper end", two, 14745, 2499.6, nil, true},
		{"just inside the lower end", two, 1639, -2499.6, nil, true},
		{"the upper end", two, 14746, 0, ErrHigh, false},
		{"the lower end", two, 1638, 0, ErrLow, false},
		{"all bits", two, 0x3FFF, 0, ErrHigh, false},
		{"no bits", two, 0, 0, ErrLow, false},
		{"nothing, one-sided", one, 1638, 0, nil, false},
		{"a zero that is off by 1 %, one-sided", one, 1508, -24.8, nil, false},
		{"further off", one, 1507, 0, ErrLow, false},
		{"half of it, one-sided", one, 8192, 1250, nil, false},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			f := frame(0, r.counts, 766)
			s, err := r.of.Decode(&f)
			assert.Equal(t, r.err, err)
			assert.Equal(t, r.counts, s.Counts)
			assert.InDelta(t, r.want, s.Pressure, 0.2, "Pa")
			assert.Equal(t, r.near, s.NearEnd)
			if err == nil {
				assert.InDelta(t, 297.99, s.Temperature, 0.01, "766·200/2047 − 50 °C")
			}
		})
	}
}

func TestStatusIsNoReading(t *testing.T) {
	for status, want := range map[byte]error{1: ErrCommand, 2: ErrStale, 3: ErrDiagnostic} {
		f := frame(status, 8192, 766)
		_, err := Range{Span: 2500}.Decode(&f)
		assert.Equal(t, want, err)
	}
}

// TestReadMeansOverFour by playback: counts 8190, 8194 (after a stale answer), 8191 and 8193.
func TestReadMeansOverFour(t *testing.T) {
	var ops []i2ctest.IO
	for _, f := range []Frame{frame(0, 8190, 766), frame(2, 8190, 766), frame(0, 8194, 766), frame(0, 8191, 766), frame(0, 8193, 766)} {
		ops = append(ops, i2ctest.IO{Addr: 0x28, R: f[:]})
	}
	bus := &i2ctest.Playback{Ops: ops}
	d := Dev{Bus: bus, Addr: 0x28, Range: Range{Span: 2500}, Sleep: noSleep}
	m, err := d.Read()
	require.NoError(t, err)
	assert.Equal(t, int32(4*8192), m.Sum)
	assert.InDelta(t, 0, m.Pressure, 1e-9)
	require.NoError(t, bus.Close(), "every transfer was made")
}

func TestReadEndsWithTheFirstThatCannotBeUsed(t *testing.T) {
	f := frame(3, 0, 0)
	bus := &i2ctest.Playback{Ops: []i2ctest.IO{{Addr: 0x28, R: f[:]}}}
	d := Dev{Bus: bus, Addr: 0x28, Range: Range{Span: 2500}, Sleep: noSleep}
	_, err := d.Read()
	assert.Equal(t, ErrDiagnostic, err)
	require.NoError(t, bus.Close())

	stale := frame(2, 8192, 766)
	bus = &i2ctest.Playback{}
	for range staleTries + 1 {
		bus.Ops = append(bus.Ops, i2ctest.IO{Addr: 0x28, R: stale[:]})
	}
	d.Bus = bus
	_, err = d.Read()
	assert.Equal(t, ErrStale, err, "the last result is never given out again")
	require.NoError(t, bus.Close())
}

func TestBusThatDoesNotAnswer(t *testing.T) {
	d := Dev{Bus: &i2ctest.Playback{DontPanic: true}, Addr: 0x28, Sleep: noSleep}
	_, err := d.Read()
	var own Error
	assert.Error(t, err)
	assert.False(t, errors.As(err, &own), "the bus's own error")
}
