package scan

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2ctest"
	"periph.io/x/conn/v3/physic"

	"ductward/hardware/mux"
	"ductward/hardware/rig"
	"ductward/internal/clock"
	"ductward/internal/shop"
)

func noSleep(time.Duration) {}

// TestBusOfTheRig finds every part of the demonstration's shop, and nothing else.
func TestBusOfTheRig(t *testing.T) {
	s, problems := shop.Parse("shop.yaml", rig.DemoShop())
	require.NoError(t, shop.Errors(problems))
	r, err := rig.NewStill(s, clock.NewVirtual(time.Date(2027, 3, 1, 7, 0, 0, 0, time.UTC)), 1)
	require.NoError(t, err)
	assert.Equal(t, []string{"1"}, r.I2CNames())
	bus, err := r.I2C("1")
	require.NoError(t, err)
	assert.Equal(t, []Found{
		{Bus: "1", Address: 0x25, Chip: "sdp8xx", Span: 500, About: "Sensirion SDP8xx, 500 Pa"},
		{Bus: "1", Address: 0x28, Chip: "abp2", About: "Honeywell ABP2, as far as its answer tells"},
		{Bus: "1", Address: 0x38, Chip: "abp2", About: "Honeywell ABP2, as far as its answer tells"},
	}, Bus(bus, "1", noSleep))
}

// quietBus acknowledges nothing but what its one part takes.
type quietBus struct {
	address uint16
	answer  func(w, r []byte) error
	asked   map[uint16]bool
}

func (b *quietBus) String() string                  { return "quiet" }
func (b *quietBus) SetSpeed(physic.Frequency) error { return nil }
func (b *quietBus) Tx(address uint16, w, r []byte) error {
	b.asked[address] = true
	if address == b.address {
		return b.answer(w, r)
	}
	return errors.New("no acknowledge")
}

var _ i2c.Bus = (*quietBus)(nil)

// TestAnUnknownPart: a port expander at an ABP2's address answers zeros to everything.
func TestAnUnknownPart(t *testing.T) {
	b := &quietBus{address: 0x38, asked: map[uint16]bool{}, answer: func(_, r []byte) error { clear(r); return nil }}
	found := Bus(b, "1", noSleep)
	require.Len(t, found, 1)
	assert.Equal(t, uint16(0x38), found[0].Address)
	assert.Empty(t, found[0].Chip)
	line, _ := found[0].Line()
	assert.Empty(t, line)
}

// TestOnlyAddressesOfKnownPartsAreAsked.
func TestOnlyAddressesOfKnownPartsAreAsked(t *testing.T) {
	b := &quietBus{asked: map[uint16]bool{}}
	assert.Empty(t, Bus(b, "1", noSleep))
	known := map[uint16]bool{}
	for _, a := range addresses() {
		known[a] = true
	}
	for a := mux.First; a <= mux.Last; a++ {
		known[a] = true
	}
	assert.Equal(t, known, b.asked)
	assert.False(t, b.asked[0x50], "the memory of a board's own chips")
}

// TestSDP8xxByPlayback: stop, the product number of an SDP810 for 125 Pa under its checksums, start, one frame whose
// scale is 240 counts per Pa, stop. The checksums were computed by the datasheet's rule, which gives 0x92 for 0xBEEF.
func TestSDP8xxByPlayback(t *testing.T) {
	bus := &i2ctest.Playback{Ops: []i2ctest.IO{
		{Addr: 0x25, W: []byte{0x3F, 0xF9}},
		{Addr: 0x25, W: []byte{0x36, 0x7C}},
		{Addr: 0x25, W: []byte{0xE1, 0x02}},
		{Addr: 0x25, R: frame(0x0302, 0x0B01, 0, 0, 0, 7)},
		{Addr: 0x25, W: []byte{0x36, 0x15}},
		{Addr: 0x25, R: frame(240, 5000, 240)},
		{Addr: 0x25, W: []byte{0x3F, 0xF9}},
	}}
	f, ok := askSDP8xx(bus, 0x25, noSleep)
	require.True(t, ok)
	assert.InDelta(t, 125, f.Span, 1e-9)
	require.NoError(t, bus.Close())
}

// frame puts the checksum behind each word, bit by bit.
func frame(words ...uint16) (out []byte) {
	for _, w := range words {
		crc := uint16(0xFF)
		for _, b := range []uint16{w >> 8, w & 0xFF} {
			crc ^= b
			for range 8 {
				crc <<= 1
				if crc&0x100 != 0 {
					crc ^= 0x131
				}
			}
		}
		out = append(out, byte(w>>8), byte(w), byte(crc))
	}
	return out
}

// TestLinesAreWhatAShopFileTakes: each line that is proposed makes a sound sensor as it stands.
func TestLinesAreWhatAShopFileTakes(t *testing.T) {
	found := []Found{{Bus: "1", Address: 0x25, Chip: "sdp8xx", Span: 125}, {Bus: "/dev/i2c-3", Address: 0x28, Chip: "abp2"},
		{Bus: "1", Mux: 0x71, Port: 6, Address: 0x28, Chip: "hsc"}, {Bus: "1", Address: 0x29, Chip: "dlh"}, {Bus: "1", Address: 0x48, Chip: "ads1115"}}
	for _, f := range found {
		line, _ := f.Line()
		text := "shop: Elm Lane\ncollectors:\n  - collector: main\n    sensors:\n      - sensor: filter drop\n        measures: filter drop\n        " + line + "\n"
		s, problems := shop.Parse("shop.yaml", []byte(text))
		require.NoError(t, shop.Errors(problems), text)
		from := s.Collectors[0].Sensors[0].From
		assert.Equal(t, f.Chip, from.Chip)
		assert.Equal(t, f.Address, from.Address)
		assert.Equal(t, f.Bus, from.Bus)
		assert.Equal(t, f.Mux, from.Mux)
		assert.Equal(t, f.Port, from.Port)
	}
}
