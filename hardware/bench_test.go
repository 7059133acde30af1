package hardware

import (
	"log/slog"
	"testing"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
)

// canned is a bus that costs next to nothing: it answers two frames in turn.
type canned struct {
	frames [2][]byte
	turn   int
}

func (c *canned) String() string                  { return "canned" }
func (c *canned) SetSpeed(physic.Frequency) error { return nil }

func (c *canned) Tx(_ uint16, _, r []byte) error {
	if len(r) > 0 {
		c.turn ^= 1
		copy(r, c.frames[c.turn])
	}
	return nil
}

type cannedBuses struct {
	*wires
	bus i2c.Bus
}

func (c cannedBuses) I2C(string) (i2c.Bus, error) { return c.bus, nil }

// cannedPoller is a poller, by its place in the bench's shop, that has been read once.
func cannedPoller(tb testing.TB, place int) Poller {
	b := newBench(nil)
	bus := &canned{frames: [2][]byte{{0x40, 0x90, 0, 0, 0x60, 0, 0}, {0x40, 0x90, 0, 1, 0x60, 0, 0}}}
	set, err := Open(b.shop, cannedBuses{b.wires, bus}, b.clock, slog.New(slog.DiscardHandler))
	require.NoError(tb, err)
	s := set.Pollers()[place].(*sensor)
	if c, ok := s.chip.(*sdpChip); ok { // as if it had been set up
		c.dev.Bus, s.ready = bus, true
		bus.frames = [2][]byte{checked(6000, 5000, 60), checked(6001, 5000, 60)}
	}
	_, _, err = s.Read()
	require.NoError(tb, err)
	return s
}

func benchmark(b *testing.B, p Poller) {
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := p.Read(); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkReadABP2 is one reading without its bus; the aim is 300 ns.
func BenchmarkReadABP2(b *testing.B) { benchmark(b, cannedPoller(b, 0)) }

// BenchmarkReadSDP8xx is one reading without its bus; the aim is 300 ns.
func BenchmarkReadSDP8xx(b *testing.B) { benchmark(b, cannedPoller(b, 2)) }

// BenchmarkBounded is what it costs to bound a transfer in time.
func BenchmarkBounded(b *testing.B) {
	bus := NewBounded(&canned{frames: [2][]byte{make([]byte, 9), make([]byte, 9)}}, transferLimit)
	defer bus.Close()
	r := make([]byte, 9)
	b.ReportAllocs()
	for b.Loop() {
		if err := bus.Tx(0x25, nil, r); err != nil {
			b.Fatal(err)
		}
	}
}

// TestReadAllocatesNothing in the steady state, so that a board that samples for years leaves nothing to collect.
func TestReadAllocatesNothing(t *testing.T) {
	for _, place := range []int{0, 2} {
		p := cannedPoller(t, place)
		require.Zero(t, testing.AllocsPerRun(1000, func() {
			if _, _, err := p.Read(); err != nil {
				t.Fatal(err)
			}
		}), "%s", p.Channel())
	}
}

// TestRestingAllocatesNothing: a sensor that is away costs nothing between the attempts.
func TestRestingAllocatesNothing(t *testing.T) {
	b := newBench(t).open()
	p := b.poller("main/filter drop")
	_, _, err := p.Read()
	require.Error(t, err)
	require.Zero(t, testing.AllocsPerRun(1000, func() { _, _, _ = p.Read() }))
}
