package plant

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/shop"
)

// TestALeakInADropPassesItsWye: what leaks into a drop, open or shut, enters the wye with the rest of the drop's air, so that the
// mixed stream is what leaves.
func TestALeakInADropPassesItsWye(t *testing.T) {
	c := workshop()
	for _, r := range c.Network.Runs {
		r.Tightness = shop.Leakage{}
	}
	o := DefaultOptions(1)
	o.AsBuilt = 0
	p := newPlant(t, c, o)
	p.SetFan(true)
	require.NoError(t, p.SetGate("saw gate", true))
	w := &p.net.wyes[0]
	for _, open := range []bool{false, true} {
		require.NoError(t, p.SetGate("planer gate", open))
		before := 0.0
		for _, flow := range []float64{0, 0.03} {
			require.NoError(t, p.SetLeak("drop:planer gate", flow))
			require.NoError(t, p.Err())
			_, total := p.solver.lift(w)
			assert.InEpsilon(t, p.solver.q[w.out], total, 1e-5, "planer gate open: %v, leak %g", open, flow)
			assert.Greater(t, total, before)
			before = total
		}
		require.NoError(t, p.SetLeak("drop:planer gate", 0))
	}
}
