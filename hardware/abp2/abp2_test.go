package abp2

import (
	"errors"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c/i2ctest"
)

var twoSided = Range{Span: 2500}
var oneSided = Range{Span: 2500, OneSided: true}

// TestPressure compares with the transfer function of datasheet 32350268: 10 % of 2^24 counts at the minimum, 90 % at
// the maximum, and by its symmetry 50 % (0x800000) halfway.
func TestPressure(t *testing.T) {
	for _, c := range []struct {
		name   string
		r      Range
		counts uint32
		want   float64 // Pa
	}{
		{"two-sided minimum", twoSided, 0x19999A, -2500},
		{"two-sided zero", twoSided, 0x800000, 0},
		{"two-sided maximum", twoSided, 0xE66666, 2500},
		{"two-sided, a quarter of the way up", twoSided, 1677722 + 13421772/4, -1250},
		{"two-sided, three quarters of the way up", twoSided, 1677722 + 13421772/4*3, 1250},
		{"one-sided minimum, which is zero", oneSided, 0x19999A, 0},
		{"one-sided middle", oneSided, 0x800000, 1250},
		{"one-sided maximum", oneSided, 0xE66666, 2500},
		{"a small part, 2 inH2O", Range{Span: 498.1778}, 0xE66666, 498.1778},
	} {
		t.Run(c.name, func(t *testing.T) {
			// A count is 0.0004 Pa: the tolerance is well below it.
			assert.InDelta(t, c.want, c.r.Pressure(c.counts), 1e-6, "Pa at count %d", c.counts)
		})
	}
}

// TestTemperature compares with the sheet's formula at the ends of the count and at room temperature (75/200 of it).
func TestTemperature(t *testing.T) {
	assert.InDelta(t, 223.15, Temperature(0), 1e-9)
	assert.InDelta(t, 423.15, Temperature(0xFFFFFF), 1e-9)
	assert.InDelta(t, 298.15, Temperature(6291456), 1e-4)
}

func frame(status byte, counts uint32) *Frame {
	return &Frame{status, byte(counts >> 16), byte(counts >> 8), byte(counts), 0x60, 0x00, 0x00}
}

func TestDecode(t *testing.T) {
	const band = 201326 // counts in 1.5 % of the span
	for _, c := range []struct {
		name    string
		r       Range
		f       *Frame
		want    float64 // Pa
		nearEnd bool
		err     error
	}{
		{name: "zero", r: twoSided, f: frame(0x40, 0x800000), want: 0},
		{name: "suction", r: twoSided, f: frame(0x40, 0x4CCCCD), want: -1250},
		{name: "pressure", r: twoSided, f: frame(0x40, 0xB33333), want: 1250},
		{name: "every byte over 0x7F", r: twoSided, f: frame(0x40, 0x80F0F0), want: 61680 * 5000 / 13421772.0},
		{name: "last count below the top", r: twoSided, f: frame(0x40, 0xE66665), want: 2499.99963, nearEnd: true},
		{name: "first count above the bottom", r: twoSided, f: frame(0x40, 0x19999B), want: -2499.99963, nearEnd: true},
		{name: "at the top", r: twoSided, f: frame(0x40, 0xE66666), err: ErrHigh},
		{name: "at the bottom", r: twoSided, f: frame(0x40, 0x19999A), err: ErrLow},
		{name: "all ones", r: twoSided, f: frame(0x40, 0xFFFFFF), err: ErrHigh},
		{name: "one-sided at zero", r: oneSided, f: frame(0x40, 0x19999A), want: 0},
		{name: "one-sided just below zero", r: oneSided, f: frame(0x40, 0x19999A-1000), want: -1000 * 2500 / 13421772.0},
		{name: "one-sided below its error band", r: oneSided, f: frame(0x40, 0x19999A-band-1), err: ErrLow},
		{name: "one-sided top", r: oneSided, f: frame(0x40, 0xE66666), err: ErrHigh},
		{name: "latched up, two-sided", r: twoSided, f: frame(0x40, 0), err: ErrLatched},
		{name: "latched up, one-sided", r: oneSided, f: frame(0x40, 0), err: ErrLatched},
		{name: "busy", r: twoSided, f: frame(0x60, 0x800000), err: ErrBusy},
		{name: "memory damaged", r: twoSided, f: frame(0x44, 0x800000), err: ErrIntegrity},
		{name: "arithmetic saturated", r: twoSided, f: frame(0x41, 0x800000), err: ErrMath},
		{name: "no power bit", r: twoSided, f: frame(0x00, 0x800000), err: ErrStatus},
		{name: "nobody drives the bus", r: twoSided, f: &Frame{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}, err: ErrStatus},
		{name: "status of another chip", r: twoSided, f: frame(0x48, 0x800000), err: ErrStatus},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := c.r.Decode(c.f)
			if c.err != nil {
				require.Equal(t, c.err, err)
				return
			}
			require.NoError(t, err)
			assert.InDelta(t, c.want, s.Pressure, 1e-4, "Pa")
			assert.Equal(t, c.nearEnd, s.NearEnd, "near an end")
			assert.InDelta(t, 298.15, s.Temperature, 1e-3, "K: 0x600000 is three eighths of the count")
		})
	}
}

// nap notes how long the driver waited.
type nap struct{ total time.Duration }

func (n *nap) sleep(d time.Duration) { n.total += d }

func device(t *testing.T, ops ...i2ctest.IO) (*Dev, *nap) {
	bus := &i2ctest.Playback{Ops: ops, DontPanic: true}
	t.Cleanup(func() { assert.NoError(t, bus.Close(), "unused transactions") })
	n := &nap{}
	return &Dev{Bus: bus, Addr: DefaultAddress, Range: twoSided, Sleep: n.sleep}, n
}

// The traffic below is made by hand after the datasheet's I²C section, not recorded from a part.

var command = i2ctest.IO{Addr: 0x28, W: []byte{0xAA, 0, 0}}

func answer(f *Frame) i2ctest.IO { return i2ctest.IO{Addr: 0x28, R: f[:]} }

func TestReadPlayback(t *testing.T) {
	d, n := device(t, command, answer(frame(0x40, 0xB33333)))
	s, err := d.Read()
	require.NoError(t, err)
	assert.InDelta(t, 1250, s.Pressure, 1e-3)
	assert.Equal(t, 5*time.Millisecond, n.total, "the sheet's conversion time")
}

func TestReadWaitsWhileBusy(t *testing.T) {
	busy := answer(frame(0x60, 0))
	d, n := device(t, command, busy, busy, answer(frame(0x40, 0x800000)))
	s, err := d.Read()
	require.NoError(t, err)
	assert.InDelta(t, 0, s.Pressure, 1e-3)
	assert.Equal(t, 9*time.Millisecond, n.total)
}

func TestReadGivesUpWhenAlwaysBusy(t *testing.T) {
	busy := answer(frame(0x60, 0))
	d, n := device(t, command, busy, busy, busy, busy, busy)
	_, err := d.Read()
	require.Equal(t, ErrBusy, err)
	assert.Equal(t, 13*time.Millisecond, n.total)
}

var errNACK = errors.New("no acknowledge")

// silent fails at a transfer, counted from 1, as a part does that is unplugged.
type silent struct {
	i2ctest.Playback
	at, seen int
}

func (s *silent) Tx(addr uint16, w, r []byte) error {
	if s.seen++; s.seen >= s.at {
		return errNACK
	}
	return s.Playback.Tx(addr, w, r)
}

func TestReadNoAcknowledge(t *testing.T) {
	for at := 1; at <= 2; at++ {
		bus := &silent{at: at, Playback: i2ctest.Playback{Ops: []i2ctest.IO{command}}}
		d := &Dev{Bus: bus, Addr: 0x28, Range: twoSided, Sleep: func(time.Duration) {}}
		_, err := d.Read()
		assert.ErrorIs(t, err, errNACK, "transfer %d", at)
		assert.Equal(t, at, bus.seen, "it must not go on after the failure")
	}
}

// TestShortAnswer: a part that lets go of the wires in mid-answer leaves ones behind. Without a checksum this is seen
// where it reaches the pressure's high byte or the status, and only there.
func TestShortAnswer(t *testing.T) {
	d, _ := device(t, command, answer(&Frame{0x40, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}))
	_, err := d.Read()
	assert.Equal(t, ErrHigh, err)
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte{0x40, 0x80, 0, 0, 0x60, 0, 0}, 2500.0, false)
	f.Add([]byte{0x40, 0, 0, 0, 0, 0, 0}, 2500.0, true)
	f.Add([]byte{0x60, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF}, 249.0, true)
	f.Fuzz(func(t *testing.T, b []byte, span float64, one bool) {
		if len(b) != 7 || !(span > 0 && span < 1e6) {
			return
		}
		fr := Frame(b)
		s, err := Range{Span: span, OneSided: one}.Decode(&fr)
		if err != nil {
			assert.Zero(t, s.Pressure)
			return
		}
		assert.Less(t, math.Abs(s.Pressure), span)
		if one {
			assert.Greater(t, s.Pressure, -0.0151*span)
		}
		assert.True(t, s.Temperature >= 223 && s.Temperature <= 424, "%g K", s.Temperature)
	})
}

type echo struct {
	i2ctest.Playback
	frame Frame
}

func (e *echo) Tx(_ uint16, _, r []byte) error { copy(r, e.frame[:]); return nil }

func TestReadAllocatesNothing(t *testing.T) {
	d := &Dev{Bus: &echo{frame: *frame(0x40, 0x812345)}, Range: twoSided, Sleep: func(time.Duration) {}}
	assert.Zero(t, testing.AllocsPerRun(100, func() {
		if _, err := d.Read(); err != nil {
			t.Fatal(err)
		}
	}))
}
