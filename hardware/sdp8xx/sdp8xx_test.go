package sdp8xx

import (
	"errors"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c/i2ctest"
)

// TestCRC holds the example of the datasheet's checksum section: CRC(0xBEEF) = 0x92. The second is the well-known check
// of the same algorithm over no change of bits: CRC(0x0000) = 0x81, from memory.
func TestCRC(t *testing.T) {
	assert.Equal(t, byte(0x92), CRC(0xBE, 0xEF))
	assert.Equal(t, byte(0x81), CRC(0x00, 0x00))
	assert.Equal(t, byte(0xAC), CRC(0xFF, 0xFF))
}

// TestCRCFindsEveryDoubleBitError: the polynomial finds all single and double errors in so short a word.
func TestCRCFindsEveryDoubleBitError(t *testing.T) {
	whole := uint32(0xBEEF92)
	for i := range 24 {
		for j := i; j < 24; j++ {
			bad := whole ^ 1<<i
			if j != i {
				bad ^= 1 << j
			}
			assert.NotEqual(t, byte(bad), CRC(byte(bad>>16), byte(bad>>8)), "bits %d and %d", i, j)
		}
	}
}

// slowCRC is the algorithm as the sheet's C example words it, bit by bit, written apart from the table.
func slowCRC(word uint16) byte {
	crc := uint16(0xFF)
	for _, b := range []uint16{word >> 8, word & 0xFF} {
		crc ^= b
		for bit := 8; bit > 0; bit-- {
			crc <<= 1
			if crc&0x100 != 0 {
				crc ^= 0x131
			}
		}
	}
	return byte(crc)
}

func TestCRCAgreesWithTheSheetsAlgorithm(t *testing.T) {
	for w := range 1 << 16 {
		require.Equal(t, slowCRC(uint16(w)), CRC(byte(w>>8), byte(w)), "word %#04x", w)
	}
}

func words(ws ...uint16) []byte {
	var out []byte
	for _, w := range ws {
		out = append(out, byte(w>>8), byte(w), slowCRC(w))
	}
	return out
}

func frame(dp, temperature int16, scale uint16) *Frame {
	f := Frame(words(uint16(dp), uint16(temperature), scale))
	return &f
}

func TestDecode(t *testing.T) {
	for _, c := range []struct {
		name    string
		f       *Frame
		want    float64 // Pa
		span    float64 // Pa
		nearEnd bool
		err     error
	}{
		{name: "zero", f: frame(0, 5000, 60), want: 0, span: 500},
		{name: "one count", f: frame(1, 5000, 60), want: 1.0 / 60, span: 500},
		{name: "both bytes set, positive", f: frame(0x1234, 5000, 60), want: 4660.0 / 60, span: 500},
		{name: "negative", f: frame(-6000, 5000, 60), want: -100, span: 500},
		{name: "last count below the top", f: frame(29999, 5000, 60), want: 499.98333, span: 500, nearEnd: true},
		{name: "first count above the bottom", f: frame(-29999, 5000, 60), want: -499.98333, span: 500, nearEnd: true},
		{name: "125 Pa part", f: frame(24000, 5000, 240), want: 100, span: 125},
		{name: "top", f: frame(30000, 5000, 60), err: ErrHigh},
		{name: "bottom", f: frame(-30000, 5000, 60), err: ErrLow},
		{name: "largest word", f: frame(32767, 5000, 60), err: ErrHigh},
		{name: "smallest word", f: frame(-32768, 5000, 240), err: ErrLow},
		{name: "no scale", f: frame(100, 5000, 0), err: ErrScale},
		{name: "scale of another family", f: frame(100, 5000, 20), err: ErrScale},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := Decode(c.f)
			if c.err != nil {
				require.Equal(t, c.err, err)
				assert.Zero(t, s.Pressure)
				return
			}
			require.NoError(t, err)
			assert.InDelta(t, c.want, s.Pressure, 1e-5, "Pa")
			assert.InDelta(t, c.span, s.Span, 1e-9, "Pa")
			assert.InDelta(t, 298.15, s.Temperature, 1e-9, "K: 5000/200 is 25 °C")
			assert.Equal(t, c.nearEnd, s.NearEnd)
		})
	}
}

func TestDecodeColdChip(t *testing.T) {
	s, err := Decode(frame(0, -2000, 60))
	require.NoError(t, err)
	assert.InDelta(t, 263.15, s.Temperature, 1e-9, "K: −2000/200 is −10 °C")
}

func TestDecodeFindsDamageInEveryByte(t *testing.T) {
	for i := range 9 {
		f := *frame(1234, 5000, 60)
		f[i] ^= 0x10
		_, err := Decode(&f)
		assert.Equal(t, ErrCRC, err, "byte %d", i)
	}
}

// TestCorrection: the maker's table of altitude against factor for its thermal parts, calibrated at 966 mbar, from
// memory: 1013 mbar 0.95, 958 mbar 1.01, 856 mbar 1.13. The tolerance is the table's rounding.
func TestCorrection(t *testing.T) {
	for _, c := range []struct{ pa, want float64 }{{101300, 0.95}, {96600, 1}, {95800, 1.01}, {85600, 1.13}} {
		assert.InDelta(t, c.want, Correction(c.pa), 0.005, "at %g Pa", c.pa)
	}
	for _, unknown := range []float64{0, -1, math.NaN(), math.Inf(1), 1e300, 96.6} {
		assert.InDelta(t, 0.9534, Correction(unknown), 1e-4, "an ambient pressure of %g Pa is none", unknown)
	}
}

// The traffic below is made by hand after the datasheet's command section, not recorded from a part. The product number
// is that of an SDP810-500Pa.

func write(b ...byte) i2ctest.IO { return i2ctest.IO{Addr: 0x25, W: b} }
func answer(b []byte) i2ctest.IO { return i2ctest.IO{Addr: 0x25, R: b} }

var (
	stop    = write(0x3F, 0xF9)
	idFirst = write(0x36, 0x7C)
	idThen  = write(0xE1, 0x02)
	start   = write(0x36, 0x15)
	sdp810  = words(0x0302, 0x0A01, 0, 0, 0x9B99, 0x4E22)
	sdp31   = words(0x0301, 0x0101, 0, 0, 0x1234, 0x5678)
)

func device(t *testing.T, ops ...i2ctest.IO) *Dev {
	bus := &i2ctest.Playback{Ops: ops, DontPanic: true}
	t.Cleanup(func() { assert.NoError(t, bus.Close(), "unused transactions") })
	return &Dev{Bus: bus, Addr: Address, Sleep: func(time.Duration) {}}
}

func TestStartAndRead(t *testing.T) {
	d := device(t, stop, idFirst, idThen, answer(sdp810), start,
		answer(frame(6000, 5000, 60)[:]), answer(frame(-6000, 5000, 60)[:]), stop)
	d.Span = 500
	require.NoError(t, d.Start())
	for _, want := range []float64{100, -100} {
		s, err := d.Read()
		require.NoError(t, err)
		assert.InDelta(t, want, s.Pressure, 1e-9)
	}
	d.Stop()
}

func TestStartWaits(t *testing.T) {
	d := device(t, stop, idFirst, idThen, answer(sdp810), start)
	var waits []time.Duration
	d.Sleep = func(w time.Duration) { waits = append(waits, w) }
	require.NoError(t, d.Start())
	require.Len(t, waits, 2)
	assert.GreaterOrEqual(t, waits[0], 500*time.Microsecond, "after stop")
	assert.GreaterOrEqual(t, waits[1], 8*time.Millisecond, "until the first result")
}

func TestStartRefusesOtherChips(t *testing.T) {
	d := device(t, stop, idFirst, idThen, answer(sdp31))
	assert.Equal(t, ErrProduct, d.Start())
}

func TestStartRefusesADamagedNumber(t *testing.T) {
	bad := append([]byte{}, sdp810...)
	bad[3] ^= 1
	d := device(t, stop, idFirst, idThen, answer(bad))
	assert.Equal(t, ErrCRC, d.Start())
}

func TestReadComparesTheRange(t *testing.T) {
	d := device(t, answer(frame(6000, 5000, 60)[:]))
	d.Span = 125
	_, err := d.Read()
	assert.Equal(t, ErrRange, err)
}

// TestShortAnswer: a part that lets go of the wires in mid-answer leaves ones behind, and the checksum finds them.
func TestShortAnswer(t *testing.T) {
	for n := range 9 {
		f := *frame(1234, 5000, 60)
		for i := n; i < 9; i++ {
			f[i] = 0xFF
		}
		d := device(t, answer(f[:]))
		_, err := d.Read()
		assert.Equal(t, ErrCRC, err, "%d bytes came", n)
	}
}

var errNACK = errors.New("no acknowledge")

// nack answers like a playback, except that the transfers whose numbers are listed, from 0, are not acknowledged.
type nack struct {
	i2ctest.Playback
	at   map[int]bool
	seen int
}

func (n *nack) Tx(addr uint16, w, r []byte) error {
	n.seen++
	if n.at[n.seen-1] {
		return errNACK
	}
	return n.Playback.Tx(addr, w, r)
}

// TestStartFromIdle: a part that is idle does not acknowledge the stop, and is started all the same.
func TestStartFromIdle(t *testing.T) {
	bus := &nack{at: map[int]bool{0: true}, Playback: i2ctest.Playback{Ops: []i2ctest.IO{idFirst, idThen, answer(sdp810), start}}}
	d := &Dev{Bus: bus, Addr: Address, Sleep: func(time.Duration) {}}
	require.NoError(t, d.Start())
	require.NoError(t, bus.Close())
}

func TestNoAcknowledge(t *testing.T) {
	all := []i2ctest.IO{stop, idFirst, idThen, answer(sdp810), start}
	for at := 1; at < len(all); at++ {
		bus := &nack{at: map[int]bool{at: true}, Playback: i2ctest.Playback{Ops: all}}
		d := &Dev{Bus: bus, Addr: Address, Sleep: func(time.Duration) {}}
		assert.ErrorIs(t, d.Start(), errNACK, "transfer %d", at)
		assert.Equal(t, at+1, bus.seen, "it must not go on after the failure")
	}
	d := &Dev{Bus: &nack{at: map[int]bool{0: true}}, Addr: Address}
	_, err := d.Read()
	assert.ErrorIs(t, err, errNACK)
}

func TestProduct(t *testing.T) {
	p, err := DecodeProduct((*[18]byte)(sdp810))
	require.NoError(t, err)
	assert.Equal(t, Product(0x03020A01), p)
	assert.True(t, p.Known())
	assert.True(t, Product(0x03020BFF).Known(), "any revision of the 125 Pa part")
	assert.False(t, Product(0x03010101).Known())
}

func FuzzDecode(f *testing.F) {
	f.Add(frame(0, 0, 60)[:])
	f.Add(frame(-30000, 5000, 240)[:])
	f.Add(frame(32767, -1, 0)[:])
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) != 9 {
			return
		}
		fr := Frame(b)
		s, err := Decode(&fr)
		if err != nil {
			assert.Zero(t, s.Pressure)
			return
		}
		assert.Less(t, math.Abs(s.Pressure), s.Span)
		assert.Contains(t, []float64{125, 500}, s.Span)
	})
}

type echo struct {
	i2ctest.Playback
	frame Frame
}

func (e *echo) Tx(_ uint16, _, r []byte) error { copy(r, e.frame[:]); return nil }

func TestReadAllocatesNothing(t *testing.T) {
	d := &Dev{Bus: &echo{frame: *frame(1234, 5000, 60)}, Span: 500}
	assert.Zero(t, testing.AllocsPerRun(100, func() {
		if _, err := d.Read(); err != nil {
			t.Fatal(err)
		}
	}))
}
