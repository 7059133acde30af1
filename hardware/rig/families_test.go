package rig

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/shop"
)

// atZero is a probe of a tap that feels nothing, in 18 °C.
func atZero(t *testing.T) (probe, *slow) {
	_, _, p, clk := onSlowClock(t)
	return probe{tap: p.Tap("main/trunk static"), plant: p}, &clk
}

// TestHSCByteForByte: no pressure is 2^13 counts; 19.5 °C of die are (69.5)/200·2047 = 711 counts, 0x2C7, in the upper
// eleven bits. A read within the millisecond is marked stale and the same.
func TestHSCByteForByte(t *testing.T) {
	pr, _ := atZero(t)
	d := newHSC(shop.Source{Address: 0x28, Span: 2500}, pr)
	r := make([]byte, 5)
	require.NoError(t, d.read(0, false, r))
	assert.Equal(t, []byte{0x20, 0x00, 0x58, 0xE0, 0xFF}, r)
	require.NoError(t, d.read(500*time.Microsecond, false, r))
	assert.Equal(t, []byte{0xA0, 0x00, 0x58, 0xE0, 0xFF}, r)
	require.NoError(t, d.read(time.Millisecond, false, r))
	assert.Equal(t, byte(0x20), r[0])
}

// TestDLHByteForByte: no pressure is 2^23 counts; 18 °C are 58/125 of 2^24, 7 784 628 counts. Four conversions take 16.4 ms.
func TestDLHByteForByte(t *testing.T) {
	pr, _ := atZero(t)
	d := newDLH(shop.Source{Address: 0x29, Span: 2500}, pr)
	r := make([]byte, 7)
	require.NoError(t, d.write(0, false, []byte{0xAD, 0, 0}))
	require.NoError(t, d.read(16*time.Millisecond, false, r))
	assert.Equal(t, byte(0x60), r[0], "busy")
	require.NoError(t, d.read(17*time.Millisecond, false, r))
	assert.Equal(t, []byte{0x40, 0x80, 0x00, 0x00, 0x76, 0xC8, 0xB4}, r)
}

// TestADP810ByteForByte: it answers once after its command, as an SDP8xx does, and knows none of that one's.
func TestADP810ByteForByte(t *testing.T) {
	pr, _ := atZero(t)
	d := newADP810(shop.Source{Address: 0x25}, pr)
	r := make([]byte, 9)
	assert.ErrorIs(t, d.write(0, false, []byte{0x36, 0x7C}), errNACK)
	assert.ErrorIs(t, d.read(0, false, r), errNACK)
	require.NoError(t, d.write(0, false, []byte{0x37, 0x2D}))
	assert.ErrorIs(t, d.read(9*time.Millisecond, false, r), errNACK, "not yet")
	require.NoError(t, d.read(10*time.Millisecond, false, r))
	assert.Equal(t, []byte{0, 0, crc(0, 0), 0x0E, 0x10, crc(0x0E, 0x10), 0, 60, crc(0, 60)}, r)
	assert.ErrorIs(t, d.read(20*time.Millisecond, false, r), errNACK, "once")
}

// TestTwoPartsThatAnswerAtOnce: with two ports joined nothing that comes can be believed.
func TestTwoPartsThatAnswerAtOnce(t *testing.T) {
	pr, clk := atZero(t)
	b := &bus{rig: &Rig{clk: clk}, name: "1"}
	for port := range 2 {
		b.devices = append(b.devices, &place{device: newHSC(shop.Source{Address: 0x28, Span: 2500}, pr), mux: b.muxAt(0x70), port: port})
	}
	r := make([]byte, 4)
	require.NoError(t, b.Tx(0x70, []byte{0x03}, nil))
	assert.ErrorIs(t, b.Tx(0x28, nil, r), errCollision)
	require.NoError(t, b.Tx(0x70, []byte{0x02}, nil))
	assert.NoError(t, b.Tx(0x28, nil, r))
	require.NoError(t, b.Tx(0x70, []byte{0}, nil))
	assert.ErrorIs(t, b.Tx(0x28, nil, r), errNACK)
	require.NoError(t, b.Tx(0x70, nil, r[:1]))
	assert.Zero(t, r[0])
}
