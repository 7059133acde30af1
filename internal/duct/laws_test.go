package duct_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/air"
	"ductward/internal/duct"
	"ductward/internal/shop"
)

// dice is a chooser with a fixed seed.
type dice struct{ *rand.Rand }

func newDice(seed uint64) dice { return dice{rand.New(rand.NewPCG(seed, 7))} }

func (d dice) float(lo, hi float64) float64 { return lo + (hi-lo)*d.Float64() }
func (d dice) int(lo, hi int) int           { return lo + d.IntN(hi-lo+1) }

func model(t require.TestingT, c *shop.Collector) *duct.Model {
	m, err := duct.New(c)
	require.NoError(t, err)
	return m
}

func solve(t require.TestingT, m *duct.Model, st duct.State) *duct.Result {
	r, err := m.Solve(st)
	require.NoError(t, err)
	return r
}

// With coefficients held, opening a gate never raises another machine's flow.
func TestOpeningAGateTakesFromTheOthers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		c := randomShop(d, d.int(2, 9), true)
		m := model(t, c)
		bits := rapid.Uint64().Draw(t, "gates")
		opened := d.int(0, len(c.Gates)-1)
		before := solve(t, m, duct.State{Setting: setting(c, bits&^(1<<opened))})
		after := solve(t, m, duct.State{Setting: setting(c, bits|1<<opened)})
		for i := range before.Machines {
			if c.Gates[opened].Name == "gate "+before.Machines[i].Name {
				assert.Greater(t, after.Machines[i].Flow, before.Machines[i].Flow)
				continue
			}
			assert.LessOrEqual(t, after.Machines[i].Flow, before.Machines[i].Flow+1e-11, before.Machines[i].Name)
		}
		assert.Greater(t, after.FanFlow, before.FanFlow)
	})
}

// With wyes, a machine may gain when another gate opens, but only one in whose run the coefficient of a wye on its way
// fell: the fast branch pulls it along.
func TestAWyeMayPullAlong(t *testing.T) {
	gained := 0
	for seed := range uint64(400) {
		d := newDice(seed)
		c := randomShop(d, d.int(2, 6), false)
		for _, j := range c.Network.Junctions {
			if j.Kind == shop.Wye {
				j.Angle = 0.5
			}
		}
		m := model(t, c)
		bits, opened := d.Uint64(), d.int(0, len(c.Gates)-1)
		before := solve(t, m, duct.State{Setting: setting(c, bits&^(1<<opened))})
		after := solve(t, m, duct.State{Setting: setting(c, bits|1<<opened)})
		for i, machine := range before.Machines {
			if c.Gates[opened].Name == "gate "+machine.Name || after.Machines[i].Flow <= machine.Flow+1e-9 {
				continue
			}
			gained++
			assert.True(t, someCoefficientFell(c, machine.Name, before, after), "seed %d: %s gained without a wye's help", seed, machine.Name)
		}
	}
	t.Log(gained, "machines gained")
	assert.Positive(t, gained, "the effect is not there to be tested")
}

// someCoefficientFell tells whether, on the way of a machine, the loss of a wye over the velocity pressure of the
// machine's own flow there fell.
func someCoefficientFell(c *shop.Collector, machine string, before, after *duct.Result) bool {
	a, b := newAudit(c, before), newAudit(c, after)
	var at *shop.Run
	for _, r := range c.Network.Runs {
		if r.From.Kind == shop.EndMachine && r.From.Name == machine {
			at = r
		}
	}
	for at != nil && at.To.Kind != shop.EndCollector {
		next := at
		for _, r := range c.Network.Runs {
			if r.From == at.To || at.To.Kind == shop.EndRun && r.Name == at.To.Name {
				next = r
			}
		}
		if at.To.Kind == shop.EndJunction {
			loss := func(x *audit) float64 {
				v := x.flow(at.Name).Velocity
				return (x.total(at, true) - x.total(next, false)) / (x.rho / 2 * v * v)
			}
			if loss(b) < loss(a) {
				return true
			}
		}
		at = next
	}
	return false
}

// The flow falls as the filter loads, at every machine, and rises with the fan's speed.
func TestFilterAndSpeed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		c := randomShop(d, d.int(2, 7), true)
		m := model(t, c)
		st := duct.State{Setting: setting(c, rapid.Uint64().Draw(t, "gates")), FilterRatio: d.float(0.5, 6), FanSpeed: d.float(0.6, 1.2)}
		r := solve(t, m, st)
		loaded, faster := st, st
		loaded.FilterRatio *= 1.1
		faster.FanSpeed *= 1.02
		a, b := solve(t, m, loaded), solve(t, m, faster)
		assert.Less(t, a.FanFlow, r.FanFlow)
		assert.Greater(t, a.InletStatic, r.InletStatic, "the suction before the filter weakens")
		assert.Greater(t, a.FilterDrop, r.FilterDrop)
		assert.Greater(t, b.FanFlow, r.FanFlow)
		for i := range r.Machines {
			assert.LessOrEqual(t, a.Machines[i].Flow, r.Machines[i].Flow+1e-12)
			assert.GreaterOrEqual(t, b.Machines[i].Flow, r.Machines[i].Flow-1e-12)
		}
	})
}

// Air of another density at the same viscosity changes the suction in proportion and the flow not at all, where the
// filter and the friction have no part in it.
func TestDensityAlone(t *testing.T) {
	c := randomShop(newDice(3), 4, false)
	for _, r := range c.Network.Runs {
		r.Length, r.Tightness = 0, shop.Leakage{}
		r.Fittings = append(r.Fittings, shop.Fitting{Kind: shop.FixedLoss, Coefficient: 0.4})
	}
	for _, g := range c.Gates {
		g.SeatLeak = 0
	}
	c.Discharge = nil
	c.Filter = shop.Filter{CleanDrop: 300.001, HousingLoss: 300, CleanFlow: 0.7}
	m := model(t, c)
	thick := air.State{Density: 1.2, Viscosity: 1.8e-5}
	thin := air.State{Density: 0.9, Viscosity: 1.8e-5}
	a := solve(t, m, duct.State{Setting: setting(c, ^uint64(0)), Air: thick})
	b := solve(t, m, duct.State{Setting: setting(c, ^uint64(0)), Air: thin})
	assert.InEpsilon(t, a.FanFlow, b.FanFlow, 1e-4)
	assert.InEpsilon(t, 0.75, b.InletStatic/a.InletStatic, 1e-4)
}

// Every gate shut: the fan works at its shut-off but for the leakage, which is all the flow there is. Tight ducts then
// stand at the fan's full suction.
func TestAllShut(t *testing.T) {
	for seed := range uint64(50) {
		c := randomShop(newDice(seed), 5, false)
		m := model(t, c)
		r := solve(t, m, duct.State{Setting: setting(c, 0)})
		assert.Less(t, newAudit(c, r).balance(), 1e-10, "what the fan moves is what passes the seats and the seams")
		assert.Less(t, r.FanFlow, 0.1)
		for i, machine := range r.Machines {
			assert.False(t, machine.Open)
			assert.LessOrEqual(t, machine.Flow, 1.64*c.Gates[i].SeatLeak+1e-9, "only its seat lets air in")
		}
		for _, run := range c.Network.Runs {
			run.Tightness = shop.Leakage{}
		}
		for _, g := range c.Gates {
			g.SeatLeak = 0
		}
		r = solve(t, model(t, c), duct.State{Setting: setting(c, 0)})
		assert.InDelta(t, 0, r.FanFlow, 1e-8)
		assert.InDelta(t, -c.Fan.Points[0].Pressure, r.InletStatic, 0.1, "shut-off pressure")
	}
}

// The fan on the dirty side of the filter sees the same flow: only where the pressures lie differs.
func TestFanBeforeFilter(t *testing.T) {
	c := randomShop(newDice(5), 4, false)
	c.Separator = &shop.Separator{Name: "cyclone", Loss: 300, Flow: 0.6, Density: 1.2}
	st := duct.State{Setting: setting(c, 0b0110)}
	c.Fan.Position = shop.FanAfterFilter
	after := solve(t, model(t, c), st)
	c.Fan.Position = shop.FanBeforeFilter
	before := solve(t, model(t, c), st)
	assert.Equal(t, after.FanFlow, before.FanFlow)
	assert.Equal(t, after.FilterDrop, before.FilterDrop)
	assert.InDelta(t, after.FilterDrop, sensor(before, "fan inlet")-sensor(after, "fan inlet"), 1e-9)
}

func sensor(r *duct.Result, name string) float64 {
	for _, s := range r.Sensors {
		if s.Channel == "c/"+name {
			return s.Value
		}
	}
	return math.NaN()
}

// A leak's flow is that of its law at the reference suction: one in the still air of a capped stub, with the trunk at
// that suction, lets in what it was stated with.
func TestLeakIsToldAtTheReferenceSuction(t *testing.T) {
	n := readNetwork(t, "trunk-three-drops")
	c := n.collector()
	m := model(t, c)
	assert.Equal(t, 1500.0, m.ReferenceSuction())
	st := n.state(n.Cases[1])
	st.Leaks = []duct.Leak{{Part: "run:" + leakRun("j2"), Flow: 1e-6}}
	r := solve(t, m, st)
	suction := 2041.1 // Pa at j2, from the reference
	require.Len(t, r.Leaks, 1)
	assert.InEpsilon(t, 1e-6*math.Pow(suction/1500, 0.65), r.Leaks[0].Flow, 0.005)
}

// A leak across a seat vanishes when its gate opens, one along the drop does not, and one on the machine's side shows
// only then.
func TestWhereALeakShows(t *testing.T) {
	n := readNetwork(t, "trunk-three-drops")
	c := n.collector()
	m := model(t, c)
	flow := func(part string, gate bool) float64 {
		st := duct.State{
			Setting: shop.Setting{Open: map[string]bool{"gate_saw": true, "gate_planer": gate}},
			Leaks:   []duct.Leak{{Part: part, Flow: 0.01}},
		}
		return solve(t, m, st).Leaks[0].Flow
	}
	assert.Greater(t, flow("seat:gate_planer", false), 0.01)
	assert.Zero(t, flow("seat:gate_planer", true))
	for _, part := range []string{"drop:gate_planer", "run:planer_drop"} {
		assert.Greater(t, flow(part, false), 0.01)
		assert.Greater(t, flow(part, true), 0.004)
	}
	assert.Less(t, flow("open-side:hood_planer", false), 1e-6)
	assert.Greater(t, flow("open-side:hood_planer", true), 0.003)
}

// A blocked drop takes from its own machine and gives to the others.
func TestBlockedDrop(t *testing.T) {
	n := readNetwork(t, "trunk-three-drops")
	m := model(t, n.collector())
	st := n.state(n.Cases[0])
	free := solve(t, m, st)
	st.Blocked = map[string]float64{"hood_saw": 1.35}
	blocked := solve(t, m, st)
	assert.Less(t, blocked.Machines[0].Flow, free.Machines[0].Flow)
	assert.Greater(t, blocked.Machines[1].Flow, free.Machines[1].Flow)
	assert.Greater(t, blocked.Machines[2].Flow, free.Machines[2].Flow)
	assert.Less(t, blocked.InletStatic, free.InletStatic, "the suction in the trunk strengthens")
}

// Warm and cold starts give one answer.
func TestWarmIsCold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		c := randomShop(d, d.int(2, 7), false)
		m := model(t, c)
		gates := rapid.Uint64()
		from := solve(t, m, duct.State{Setting: setting(c, gates.Draw(t, "from")), FilterRatio: d.float(0.5, 3)})
		st := duct.State{Setting: setting(c, gates.Draw(t, "to")), FilterRatio: d.float(0.5, 3)}
		cold := solve(t, m, st)
		warm, err := m.Warm(st, from)
		require.NoError(t, err)
		assert.InDelta(t, cold.FanFlow, warm.FanFlow, 1e-9)
		for i := range cold.Runs {
			assert.InDelta(t, cold.Runs[i].Flow, warm.Runs[i].Flow, 1e-9, fmt.Sprint(cold.Runs[i].Name))
		}
	})
}
