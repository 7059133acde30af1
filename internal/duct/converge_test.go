package duct_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/duct"
	"ductward/internal/shop"
)

// Every set of gates of a small shop solves, none and all among them, in few steps.
func TestEveryGateSetSolves(t *testing.T) {
	for seed := range uint64(6) {
		c := randomShop(newDice(seed), 7, false)
		m := model(t, c)
		for bits := range uint64(1) << len(c.Gates) {
			r, err := m.Solve(duct.State{Setting: setting(c, bits)})
			require.NoError(t, err, "seed %d, gates %b", seed, bits)
			assert.LessOrEqual(t, r.Iterations, 15, "seed %d, gates %b", seed, bits)
			assert.Less(t, newAudit(c, r).balance(), 1e-10)
		}
	}
}

// spoil makes a shop that nobody would build: runs a thousand times too long or of no length at all, ducts three times
// too wide, seams open a thousand times, wyes nearly along the main, rings.
func spoil(d dice, c *shop.Collector) {
	for _, r := range c.Network.Runs {
		switch d.int(0, 9) {
		case 0:
			r.Length *= 1000
		case 1:
			r.Length, r.Fittings = 0, nil
		case 2:
			r.Tightness.C *= 1000
		case 3:
			r.Diameter *= 3
		}
	}
	for _, j := range c.Network.Junctions {
		if j.Kind == shop.Wye && d.int(0, 1) == 0 {
			j.Angle = 15 * math.Pi / 180
		}
	}
	rings := &drawing{Collector: c, chooser: d}
	for k := range d.int(0, 2) {
		rings.ring(fmt.Sprint("ring ", k))
	}
}

// The solve converges from anywhere, to an answer that balances.
func TestExtremeShopsSolve(t *testing.T) {
	shops := uint64(400)
	if testing.Short() {
		shops = 50
	}
	for seed := range shops {
		d := newDice(seed)
		c := randomShop(d, d.int(2, 12), false)
		spoil(d, c)
		m := model(t, c)
		parts := m.LeakParts()
		for k := range 5 {
			bits := d.Uint64()
			if k == 0 {
				bits = 0
			}
			st := duct.State{Setting: setting(c, bits), FanSpeed: d.float(0.05, 2), FilterRatio: math.Pow(10, d.float(-2, 3))}
			if d.int(0, 1) == 0 { // from a pinhole to a hole that nothing could make
				st.Leaks = []duct.Leak{{Part: parts[d.int(0, len(parts)-1)], Flow: math.Pow(10, d.float(-6, 2))}}
			}
			r, err := m.Solve(st)
			require.NoError(t, err, "seed %d, gates %b", seed, bits)
			require.Less(t, newAudit(c, r).balance(), 1e-9*(1+r.FanFlow), "seed %d, gates %b", seed, bits)
		}
	}
}

// Cold, warm and oddly warm starts all lead to one answer: no second solution shows in an ordinary shop.
func TestOneSolution(t *testing.T) {
	for seed := range uint64(40) {
		d := newDice(seed)
		c := randomShop(d, 8, false)
		m := model(t, c)
		st := duct.State{Setting: setting(c, d.Uint64())}
		cold := solve(t, m, st)
		for range 5 {
			odd := solve(t, m, duct.State{Setting: setting(c, d.Uint64()), FanSpeed: d.float(0.1, 2), FilterRatio: d.float(0.1, 20)})
			warm, err := m.Warm(st, odd)
			require.NoError(t, err)
			assert.InDelta(t, cold.FanFlow, warm.FanFlow, 1e-9, "seed %d", seed)
		}
	}
}

// ringMain is a shop whose trunk is a ring: the far machine's air may go either way round.
func ringMain() *shop.Collector {
	run := func(name string, from, to shop.End, diameter, length float64) *shop.Run {
		return &shop.Run{Name: name, From: from, To: to, Diameter: diameter, Length: length, Roughness: 9e-5, Stretch: 1}
	}
	machine := func(name string) shop.End { return shop.End{Kind: shop.EndMachine, Name: name} }
	joint := func(name string) shop.End { return shop.End{Kind: shop.EndJunction, Name: name} }
	return &shop.Collector{
		Name: "c", Rating: math.NaN(),
		Filter:   shop.Filter{CleanDrop: 400, CleanFlow: 0.7},
		Fan:      shop.Fan{Coefficients: []float64{2500, 0, -1800}},
		Machines: []*shop.Machine{{Name: "tenoner"}, {Name: "moulder"}},
		Gates:    []*shop.Gate{{Name: "tenoner gate", Open: 0.05}, {Name: "moulder gate", Open: 0.05}},
		Network: &shop.Network{
			Junctions: []*shop.Junction{{Name: "far"}, {Name: "left"}, {Name: "near"}},
			Runs: []*shop.Run{
				gated(run("tenoner drop", machine("tenoner"), joint("far"), 0.14, 3), "tenoner gate"),
				gated(run("moulder drop", machine("moulder"), joint("left"), 0.14, 3), "moulder gate"),
				run("left side", joint("far"), joint("left"), 0.16, 8),
				run("left end", joint("left"), joint("near"), 0.16, 8),
				run("right side", joint("far"), joint("near"), 0.16, 16),
				run("trunk", joint("near"), shop.End{Kind: shop.EndCollector}, 0.2, 4),
			},
		},
	}
}

// gated gives a machine's run its flanged hood and its gate.
func gated(r *shop.Run, gate string) *shop.Run {
	r.Gate = gate
	r.Fittings = []shop.Fitting{{Kind: shop.Entry, Entry: shop.FlangedEntry}}
	return r
}

func TestRingMain(t *testing.T) {
	c := ringMain()
	m := model(t, c)
	flow := func(r *duct.Result, run string) float64 { return newAudit(c, r).flow(run).Flow }
	open := func(tenoner, moulder bool) *duct.Result {
		return solve(t, m, duct.State{Setting: shop.Setting{Open: map[string]bool{"tenoner gate": tenoner, "moulder gate": moulder}}})
	}
	r := open(true, false)
	assert.InEpsilon(t, flow(r, "left side"), flow(r, "right side"), 1e-6, "two ways of one length share alike")
	r = open(false, true)
	assert.Less(t, flow(r, "left side"), 0.0, "the moulder's air goes backwards round the ring too")
	assert.InEpsilon(t, -flow(r, "left side"), flow(r, "right side"), 1e-6)
	assert.Greater(t, flow(r, "left end"), flow(r, "right side"), "but most takes the short way")
	r = open(false, false)
	assert.InDelta(t, 0, r.FanFlow, 1e-8)
	assert.Less(t, newAudit(c, open(true, true)).balance(), 1e-10)
}

// hoseShop has one hose that is moved between two machines, a selector of two runs, and a capped stub.
func hoseShop() *shop.Collector {
	c := ringMain()
	c.Machines = append(c.Machines, &shop.Machine{Name: "lathe"}, &shop.Machine{Name: "sander"}, &shop.Machine{Name: "bench"}, &shop.Machine{Name: "floor"})
	c.Selectors = []*shop.Selector{
		{Name: "hose", Hose: true, Ports: []string{"lathe", "sander"}},
		{Name: "valve", Ports: []string{"bench run", "floor run"}, SeatLeak: 0.001},
	}
	run := func(name string, from, to shop.End) *shop.Run {
		return &shop.Run{Name: name, From: from, To: to, Diameter: 0.1, Length: 2, Roughness: 9e-5, Stretch: 1}
	}
	near := shop.End{Kind: shop.EndJunction, Name: "near"}
	c.Network.Runs = append(c.Network.Runs,
		run("hose", shop.End{Kind: shop.EndSelector, Name: "hose"}, near),
		run("bench run", shop.End{Kind: shop.EndMachine, Name: "bench"}, shop.End{Kind: shop.EndSelector, Name: "valve"}),
		run("floor run", shop.End{Kind: shop.EndMachine, Name: "floor"}, shop.End{Kind: shop.EndSelector, Name: "valve"}),
		run("valve run", shop.End{Kind: shop.EndSelector, Name: "valve"}, near),
		run("stub", shop.End{Kind: shop.EndStub, Name: "for a lathe to come"}, near),
	)
	return c
}

func TestSelectorsAndStubs(t *testing.T) {
	c := hoseShop()
	m := model(t, c)
	at := func(hose, valve int) map[string]duct.MachineFlow {
		out := map[string]duct.MachineFlow{}
		for _, f := range solve(t, m, duct.State{Setting: shop.Setting{Port: map[string]int{"hose": hose, "valve": valve}}}).Machines {
			out[f.Name] = f
		}
		return out
	}
	f := at(1, 2)
	assert.True(t, f["lathe"].Open)
	assert.False(t, f["sander"].Open)
	assert.Greater(t, f["lathe"].Flow, 0.1)
	assert.Zero(t, f["sander"].Flow, "the hose is not there")
	assert.Greater(t, f["floor"].Flow, 0.1)
	assert.Greater(t, f["bench"].Flow, 0.0001, "its port leaks")
	assert.Less(t, f["bench"].Flow, 0.002)
	g := at(2, 1)
	assert.InEpsilon(t, f["lathe"].Flow, g["sander"].Flow, 1e-9, "the same hose at another machine")
	assert.InEpsilon(t, f["floor"].Flow, g["bench"].Flow, 1e-9)
	none := at(0, 0)
	for name, machine := range none {
		assert.False(t, machine.Open, name)
	}
	_, err := m.Solve(duct.State{Setting: shop.Setting{Port: map[string]int{"hose": 3}}})
	assert.ErrorContains(t, err, `selector "hose" has no port 3`)
	// A blocked hose is the machine's only while it is there.
	st := duct.State{Setting: shop.Setting{Port: map[string]int{"hose": 1}}, Blocked: map[string]float64{"sander": 5}}
	free := solve(t, m, duct.State{Setting: st.Setting})
	assert.Equal(t, free.FanFlow, solve(t, m, st).FanFlow)
	st.Blocked = map[string]float64{"lathe": 5}
	assert.Less(t, solve(t, m, st).FanFlow, free.FanFlow)
}

// Curves that make trouble are told, not hidden.
func TestWarnings(t *testing.T) {
	c := ringMain()
	c.Rating = 2000
	c.Fan = shop.Fan{Points: []shop.CurvePoint{{Flow: 0, Pressure: 2300}, {Flow: 0.2, Pressure: 2500}, {Flow: 0.5, Pressure: 2100}}}
	m := model(t, c)
	r := solve(t, m, duct.State{})
	require.Len(t, r.Warnings, 2)
	assert.Contains(t, r.Warnings[0], "curve rises")
	assert.Contains(t, r.Warnings[1], "rated to bear")
	r = solve(t, m, duct.State{Setting: shop.Setting{Open: map[string]bool{"tenoner gate": true, "moulder gate": true}}})
	require.NotEmpty(t, r.Warnings)
	assert.Contains(t, r.Warnings[0], "beyond the last point")
}
