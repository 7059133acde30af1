package hardware

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

// sticky is a bus that hangs when it is told to, until it is let go.
type sticky struct {
	hang   chan struct{} // nil: it answers
	begun  chan struct{} // one for each transfer that hangs
	answer byte
	err    error
	closed int
}

func (s *sticky) String() string                  { return "sticky" }
func (s *sticky) SetSpeed(physic.Frequency) error { return nil }
func (s *sticky) Close() error                    { s.closed++; return nil }

func (s *sticky) Tx(_ uint16, w, r []byte) error {
	if hang := s.hang; hang != nil {
		close(s.begun) // from here on the test may change the fields
		<-hang
	}
	for i := range r {
		r[i] = s.answer
	}
	return s.err
}

func TestBounded(t *testing.T) {
	s := &sticky{answer: 7}
	b := NewBounded(s, time.Minute)
	defer b.Close()
	r := make([]byte, 3)
	require.NoError(t, b.Tx(0x28, []byte{1}, r))
	assert.Equal(t, []byte{7, 7, 7}, r)
	s.err = errNACK
	assert.ErrorIs(t, b.Tx(0x28, []byte{1}, r), errNACK)
	assert.Equal(t, "sticky", b.String())
	assert.ErrorContains(t, b.Tx(0x28, make([]byte, 65), nil), "over the limit")
}

// TestBoundedHangs: a transfer that hangs ends in time, others fail at once meanwhile, the late answer reaches nobody,
// and the bus works again when the transfer has come back.
func TestBoundedHangs(t *testing.T) {
	s := &sticky{hang: make(chan struct{}), begun: make(chan struct{}), answer: 9}
	b := NewBounded(s, 5*time.Millisecond)
	defer b.Close()
	r := []byte{1, 2}
	err := b.Tx(0x28, nil, r)
	require.ErrorIs(t, err, errLocked)
	assert.Equal(t, BusLocked, busCode(err))
	<-s.begun
	for range 3 {
		require.ErrorIs(t, b.Tx(0x28, nil, r), errLocked)
	}
	assert.True(t, b.Hanging())
	hang := s.hang
	s.hang, s.answer = nil, 4
	close(hang)
	require.Eventually(t, func() bool { return !b.Hanging() }, 10*time.Second, time.Millisecond)
	assert.Equal(t, []byte{1, 2}, r, "the late answer must not be written anywhere")
	require.NoError(t, b.Tx(0x28, nil, r))
	assert.Equal(t, []byte{4, 4}, r)
}

func TestBoundedClosed(t *testing.T) {
	b := NewBounded(&sticky{}, time.Minute)
	require.NoError(t, b.Close())
	require.NoError(t, b.Close())
	assert.ErrorContains(t, b.Tx(0x28, nil, []byte{0}), "closed")
}

// TestLockedBusIsAFault: through a poller, on a bus that hangs.
func TestLockedBusIsAFault(t *testing.T) {
	b := newBench(t).open()
	s := &sticky{hang: make(chan struct{}), begun: make(chan struct{})}
	bounded := NewBounded(s, 5*time.Millisecond)
	defer bounded.Close()
	b.set.pollers[0].(*sensor).way.buses = oneBus{bounded, b.wires}
	b.wantFault("main/filter drop", BusLocked)
	close(s.hang)
}

type oneBus struct {
	bus i2c.Bus
	*wires
}

func (o oneBus) I2C(string) (i2c.Bus, error) { return o.bus, nil }

// TestHostOpensAnew: a bus whose device fails again and again is closed and opened again, and one that cannot be opened
// yet is tried again with the next transfer.
func TestHostOpensAnew(t *testing.T) {
	var opened []*sticky
	var refuse error
	h := newHost(func(string) (i2c.BusCloser, error) {
		if refuse != nil {
			return nil, refuse
		}
		opened = append(opened, &sticky{answer: byte(len(opened))})
		return opened[len(opened)-1], nil
	})
	bus, err := h.I2C("1")
	require.NoError(t, err)
	again, err := h.I2C("1")
	require.NoError(t, err)
	assert.Same(t, bus, again)

	opened[0].err = errNACK
	for range reopenAfter {
		require.ErrorIs(t, bus.Tx(0x28, nil, []byte{0}), errNACK)
	}
	assert.Equal(t, 1, opened[0].closed)
	refuse = errors.New("no such device")
	require.ErrorIs(t, bus.Tx(0x28, nil, []byte{0}), refuse)
	refuse = nil
	r := []byte{0}
	require.NoError(t, bus.Tx(0x28, nil, r))
	assert.Equal(t, byte(1), r[0], "by the second device")
	require.NoError(t, h.Close())
	assert.Equal(t, 1, opened[1].closed)
}

func TestHostWithoutTheBus(t *testing.T) {
	h := newHost(func(string) (i2c.BusCloser, error) { return nil, errors.New("no such device") })
	_, err := h.I2C("7")
	assert.ErrorContains(t, err, `i2c bus "7": no such device`)
	_, err = h.Pin("GPIO999")
	assert.ErrorContains(t, err, `pin "GPIO999"`)
	require.NoError(t, h.Close())
}
