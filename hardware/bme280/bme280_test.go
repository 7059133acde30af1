package bme280

import (
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c/i2ctest"
	"periph.io/x/conn/v3/physic"
)

// The example of the BMP280's datasheet (BST-BMP280-DS001, section 3.12, "Calculating pressure and temperature"), whose
// formulas the BME280 shares: with these coefficients, raw values of 519888 and 415148 are 25.08 °C and 100653.27 Pa.
var (
	coefficients = words(27504, 26435, -1000, 36477, -10685, 3024, 2855, 140, -7, 15500, -14600, 6000)
	raw          = []byte{0x65, 0x5A, 0xC0, 0x7E, 0xED, 0x00}
)

func words(ws ...int) (out []byte) {
	for _, w := range ws {
		out = append(out, byte(w), byte(w>>8))
	}
	return append(out, 0, 75) // reserved, and H1
}

// bmp280 answers as the part of the example does.
func bmp280(reading []byte) *i2ctest.Playback {
	return &i2ctest.Playback{Ops: []i2ctest.IO{
		{Addr: 0x76, W: []byte{0xD0}, R: []byte{0x58}},
		{Addr: 0x76, W: []byte{0x88}, R: coefficients},
		{Addr: 0x76, W: []byte{0xF4, 0x24, 0xF5, 0xA0, 0xF4, 0x24}},
		{Addr: 0x76, W: []byte{0xF4, 0x25}},
		{Addr: 0x76, W: []byte{0xF3}, R: []byte{0x08}},
		{Addr: 0x76, W: []byte{0xF3}, R: []byte{0x00}},
		{Addr: 0x76, W: []byte{0xF7}, R: reading},
	}}
}

func TestTheDatasheetsExample(t *testing.T) {
	bus := bmp280(raw)
	d := Dev{Addr: 0x76}
	require.NoError(t, d.Start(bus))
	s, err := d.Read()
	require.NoError(t, err)
	assert.InDelta(t, 273.15+25.08, s.Temperature, 0.005, "K")
	assert.InDelta(t, 100653.27, s.Pressure, 0.05, "Pa")
	assert.True(t, math.IsNaN(s.Humidity), "a BMP280 has none")
	require.NoError(t, bus.Close(), "every transfer was made")
}

// TestAPartThatMeasuresNothing: 0x80000 is what stands in the registers of a part that has measured nothing.
func TestAPartThatMeasuresNothing(t *testing.T) {
	d := Dev{Addr: 0x76}
	require.NoError(t, d.Start(bmp280([]byte{0, 0, 0, 0, 0, 0})))
	_, err := d.Read()
	assert.Equal(t, ErrRange, err)
}

func TestWhoAnswers(t *testing.T) {
	d := Dev{Addr: 0x76}
	_, err := d.Read()
	assert.Error(t, err, "not set up")
	err = d.Start(&i2ctest.Playback{Ops: []i2ctest.IO{{Addr: 0x76, W: []byte{0xD0}, R: []byte{0x61}}}})
	assert.ErrorIs(t, err, ErrChip, "a BME680")
	err = d.Start(&dead{})
	assert.ErrorIs(t, err, errNACK, "the bus's own error is kept")
	assert.False(t, errors.Is(err, ErrChip))
}

var errNACK = errors.New("no acknowledge")

type dead struct{}

func (*dead) String() string                  { return "dead" }
func (*dead) SetSpeed(physic.Frequency) error { return nil }
func (*dead) Tx(_ uint16, _, _ []byte) error  { return errNACK }

// busy is the part of the example that never ends its measurement.
type busy struct {
	*i2ctest.Playback
	asked int
}

func (b *busy) Tx(a uint16, w, r []byte) error {
	if len(w) == 1 && w[0] == 0xF3 {
		b.asked++
		r[0] = 0x08
		return nil
	}
	return b.Playback.Tx(a, w, r)
}

func TestAPartThatStaysBusyIsNotWaitedForWithoutEnd(t *testing.T) {
	b := &busy{Playback: bmp280(raw)}
	d := Dev{Addr: 0x76}
	require.NoError(t, d.Start(b))
	_, err := d.Read()
	assert.Equal(t, ErrBusy, err)
	assert.Less(t, b.asked, mostTransfers)
}
