package live

import (
	"log/slog"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/hardware/rig"
	"ductward/internal/clock"
	"ductward/internal/shop"
)

// seed makes the plants of these tests.
const seed = 7

// bench is the demonstration's shop on a rig, with a watch of it.
type bench struct {
	*testing.T
	rig   *rig.Still
	clock *clock.Virtual
	watch *Watch
}

func newBench(t *testing.T, said Fan) *bench {
	t.Helper()
	return newBenchOf(t, said, func(*shop.Shop) {})
}

// newBenchOf is that of the demonstration's shop after a change.
func newBenchOf(t *testing.T, said Fan, change func(*shop.Shop)) *bench {
	t.Helper()
	t.Logf("seed %d", seed)
	s, problems := shop.Parse("shop.yaml", rig.DemoShop())
	require.NoError(t, shop.Errors(problems))
	s.Outbound = shop.Outbound{}
	change(s)
	clk := clock.NewVirtual(time.Date(2027, 3, 1, 7, 0, 0, 0, time.UTC))
	r, err := rig.NewStill(s, clk, seed)
	require.NoError(t, err)
	b := &bench{T: t, rig: r, clock: clk}
	b.open(s, said)
	return b
}

func (b *bench) open(s *shop.Shop, said Fan) {
	w, err := Open(s, b.rig, b.clock, said, slog.New(slog.DiscardHandler))
	require.NoError(b, err)
	b.Cleanup(func() { assert.NoError(b, w.Close()) })
	b.watch = w
}

// reopen takes the shop file as it has become, on the same wires.
func (b *bench) reopen() { b.open(b.watch.shop, Unknown) }

// pass watches for a time.
func (b *bench) pass(d time.Duration) {
	b.Helper()
	require.NoError(b, b.watch.For(b.Context(), d, nil))
}

// row returns a channel as it is now.
func (b *bench) row(channel string) Row {
	b.Helper()
	for _, r := range b.watch.Rows() {
		if r.Channel == channel {
			return r
		}
	}
	require.Fail(b, "no row", channel)
	return Row{}
}
