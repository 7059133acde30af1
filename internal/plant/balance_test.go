package plant

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/shop"
)

// requireBalanced recomputes every node's balance and every segment's law from the answer. Half a leak enters at each
// end of an open segment; see solver.leakage.
func requireBalanced(t require.TestingT, p *Plant) {
	s, n := p.solver, p.net
	require.NoError(t, s.run(), "back at the state itself, after the slopes were taken")
	sum := make([]float64, len(n.names))
	at := func(node int, q float64) {
		if node != room {
			sum[node] += q
		}
	}
	for i := range n.segments {
		e := &n.segments[i]
		at(e.to, s.q[i])
		at(e.from, -s.q[i])
		_, share := s.seamPressure(e, i)
		if share[0] > 0 && e.from == room {
			share = [2]float64{0, 1}
		}
		at(e.from, share[0]*s.leaks[i])
		at(e.to, share[1]*s.leaks[i])
		dp, _ := s.law(i)
		if e.wye >= 0 {
			dp, _ = s.meet(i, dp, 0)
		}
		given := s.pressure(s.pr, e.from) - s.pressure(s.pr, e.to)
		require.InDelta(t, given, dp, 0.02+1e-4*math.Abs(given), "Pa along segment %d of run %d", i, e.run)
	}
	largest := 0.0
	for _, q := range s.q {
		largest = math.Max(largest, math.Abs(q))
	}
	for i, q := range sum {
		require.InDelta(t, 0, q, 1e-5*largest+1e-8, "m³/s into %s", n.names[i])
	}
}

func TestEveryGateSetBalances(t *testing.T) {
	p := newPlant(t, workshop(), DefaultOptions(5))
	p.SetFan(true)
	for set := range 1 << len(p.c.Gates) {
		for port := range 3 {
			require.NoError(t, p.SetPort("hose", port))
			for i, g := range p.c.Gates {
				require.NoError(t, p.SetGate(g.Name, set>>i&1 == 1))
			}
			tr, err := p.Truth()
			require.NoError(t, err, "gates %b, port %d", set, port)
			requireBalanced(t, p)
			assert.Greater(t, tr.Leakage, 0.0, "m³/s")
			entered := 0.0
			for i, e := range p.net.segments {
				entered += p.solver.leaks[i]
				if e.from == room && e.kind == ductSegment {
					entered += p.solver.q[i]
				}
			}
			assert.InDelta(t, tr.FanFlow, entered, 1e-6, "what enters is what the fan moves, m³/s")
		}
	}
}

func TestAnyStateBalances(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := DefaultOptions(rapid.Uint64().Draw(t, "seed"))
		p, err := New(workshop(), site, o)
		require.NoError(t, err)
		p.SetFan(true)
		for range rapid.IntRange(1, 6).Draw(t, "changes") {
			for _, g := range p.c.Gates {
				require.NoError(t, p.SetGate(g.Name, rapid.Bool().Draw(t, g.Name)))
			}
			require.NoError(t, p.SetPort("hose", rapid.IntRange(0, 2).Draw(t, "port")))
			p.SetFilterRatio(rapid.Float64Range(0.3, 8).Draw(t, "filter"))
			p.SetFanSpeed(rapid.Float64Range(0.3, 1.2).Draw(t, "speed"))
			require.NoError(t, p.SetBlock("planer", rapid.Float64Range(0.7, 50).Draw(t, "block")))
			require.NoError(t, p.SetRunBlock("trunk 2", rapid.Float64Range(0.7, 50).Draw(t, "run block")))
			for _, part := range []string{"run:trunk 1", "seat:saw gate", "drop:band gate", "open-side:router", "separator", "clean-side"} {
				require.NoError(t, p.SetLeak(part, rapid.Float64Range(0, 0.2).Draw(t, part)))
			}
			require.NoError(t, p.Err())
			requireBalanced(t, p)
		}
	})
}

// TestRingMain parts the way between two junctions: the two runs lose the same pressure, and the flow divides by the
// square roots of their resistances.
func TestRingMain(t *testing.T) {
	c := threeDrops()
	ring := *c.Network.Runs[6]
	ring.Name, ring.Length = "the other way", 24
	c.Network.Runs = append(c.Network.Runs, &ring)
	p := newPlant(t, c, Exact())
	openGates(t, p, "saw gate", "band gate")
	requireBalanced(t, p)
	tr, err := p.Truth()
	require.NoError(t, err)
	near, far := tr.Runs[6], tr.Runs[8]
	assert.InDelta(t, near.StaticStart+vp(near), far.StaticStart+vp(far), 0.01, "Pa total at the start")
	assert.InEpsilon(t, math.Sqrt(24.0/6), near.Flow/far.Flow, 0.05, "√ of four times the length, but for friction's slope by Re")
	assert.InDelta(t, tr.FanFlow, near.Flow+far.Flow, 1e-6)
}

// vp is the velocity pressure of a run in the air of the tests.
func vp(r RunFlow) float64 {
	return 0.5 * Weather{Temperature: site.Temperature, Pressure: 101325, Humidity: site.Humidity}.density() * r.Velocity * r.Velocity
}

func TestDrawingsThatCannotBeBuilt(t *testing.T) {
	cases := []struct {
		name   string
		damage func(*shop.Collector)
		want   string
	}{
		{"no drawing", func(c *shop.Collector) { c.Network = nil }, "needs a drawing"},
		{"a run to nowhere", func(c *shop.Collector) { c.Network.Runs[1].To.Name = "j9" }, `run "saw drop" ends at "j9"`},
		{"a gate that is not there", func(c *shop.Collector) { c.Gates = c.Gates[1:] }, `gate "saw gate"`},
		{"no way to the collector", func(c *shop.Collector) { c.Network.Runs = c.Network.Runs[:7] }, "no run ends at the collector"},
		{"a machine without a hood", func(c *shop.Collector) { c.Machines = append(c.Machines, &shop.Machine{Name: "lathe"}) }, `machine "lathe"`},
		{"a wye with one leg", func(c *shop.Collector) {
			c.Network.Junctions = append(c.Network.Junctions, &shop.Junction{Name: "j7", Kind: shop.Wye})
		}, "two runs that end in it"},
	}
	for _, k := range cases {
		t.Run(k.name, func(t *testing.T) {
			c := threeDrops()
			k.damage(c)
			_, err := New(c, site, Exact())
			require.ErrorContains(t, err, k.want)
		})
	}
}

func TestNamesThatAreNotThere(t *testing.T) {
	p := newPlant(t, workshop(), Exact())
	for _, err := range []error{
		p.SetGate("no gate", true), p.SetPort("hose", 3), p.SetPort("no hose", 1), p.SetBlock("lathe", 2), p.SetRunBlock("trunk 9", 2),
		p.UseMachine("lathe"), p.SetLeak("run:trunk 9", 1), p.SetLeak("roof", 1), p.Apply(Event{Kind: TearEvent}),
	} {
		assert.Error(t, err)
	}
	assert.True(t, math.IsNaN(p.Mean("main/nothing")))
	assert.True(t, math.IsNaN(p.Sample("main/nothing", 1)))
}
