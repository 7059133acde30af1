package mux

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c/i2ctest"
	"periph.io/x/conn/v3/physic"
)

// TestThePortIsChosenBeforeEveryTransfer by playback: also where it was chosen before, since the part may have lost its
// supply meanwhile.
func TestThePortIsChosenBeforeEveryTransfer(t *testing.T) {
	bus := &i2ctest.Playback{Ops: []i2ctest.IO{
		{Addr: 0x70, W: []byte{0x08}}, {Addr: 0x28, W: []byte{0xAA, 0, 0}},
		{Addr: 0x70, W: []byte{0x08}}, {Addr: 0x28, R: []byte{0x40}},
		{Addr: 0x70, W: []byte{0x80}}, {Addr: 0x28, R: []byte{0x60}},
	}}
	trunk := &Trunk{}
	trunk.Add(0x70)
	three, seven := &Port{trunk, bus, 0x70, 3}, &Port{trunk, bus, 0x70, 7}
	require.NoError(t, three.Tx(0x28, []byte{0xAA, 0, 0}, nil))
	r := make([]byte, 1)
	require.NoError(t, three.Tx(0x28, nil, r))
	assert.Equal(t, byte(0x40), r[0])
	require.NoError(t, seven.Tx(0x28, nil, r))
	assert.Equal(t, byte(0x60), r[0])
	require.NoError(t, bus.Close())
	assert.Contains(t, three.String(), "mux 0x70 port 3")
}

// TestTwoMultiplexersAreNeverJoinedAtOnce: parts of one address behind both would answer together.
func TestTwoMultiplexersAreNeverJoinedAtOnce(t *testing.T) {
	bus := &i2ctest.Playback{Ops: []i2ctest.IO{
		{Addr: 0x71, W: []byte{0}}, // another program may have left it joined
		{Addr: 0x70, W: []byte{1}}, {Addr: 0x28, R: []byte{1}},
		{Addr: 0x70, W: []byte{1}}, {Addr: 0x28, R: []byte{1}}, // and it is let go once
		{Addr: 0x70, W: []byte{0}},
		{Addr: 0x71, W: []byte{1}}, {Addr: 0x28, R: []byte{2}},
	}}
	trunk := &Trunk{}
	trunk.Add(0x70)
	trunk.Add(0x71)
	trunk.Add(0x70)
	r := make([]byte, 1)
	one, two := &Port{trunk, bus, 0x70, 0}, &Port{trunk, bus, 0x71, 0}
	require.NoError(t, one.Tx(0x28, nil, r))
	require.NoError(t, one.Tx(0x28, nil, r))
	require.NoError(t, two.Tx(0x28, nil, r))
	assert.Equal(t, byte(2), r[0])
	require.NoError(t, bus.Close())
}

// away is a bus on which one multiplexer answers and another does not.
type away struct{ asked []uint16 }

var errNACK = errors.New("no acknowledge")

func (b *away) String() string                  { return "away" }
func (b *away) SetSpeed(physic.Frequency) error { return nil }
func (b *away) Tx(address uint16, _, _ []byte) error {
	b.asked = append(b.asked, address)
	if address == 0x71 {
		return errNACK
	}
	return nil
}

func TestOneThatIsAwayStopsNobodyElse(t *testing.T) {
	bus, trunk := &away{}, &Trunk{}
	trunk.Add(0x70)
	trunk.Add(0x71)
	require.NoError(t, (&Port{trunk, bus, 0x70, 2}).Tx(0x28, nil, nil))
	assert.Equal(t, []uint16{0x71, 0x71, 0x70, 0x28}, bus.asked)
	err := (&Port{trunk, bus, 0x71, 2}).Tx(0x28, nil, nil)
	assert.ErrorIs(t, err, errNACK)
	assert.ErrorContains(t, err, "multiplexer 0x71", "which says that it is not the part")
	assert.Equal(t, uint16(0x71), bus.asked[len(bus.asked)-1], "the part is not asked")
}
