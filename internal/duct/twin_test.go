package duct_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/duct"
	"ductward/internal/shop"
)

// tightened takes the leakage out of some of a shop's seams and seats, so that their nodes may be left out.
func tightened(d chooser, c *shop.Collector) {
	for _, r := range c.Network.Runs {
		if d.int(0, 2) > 0 {
			r.Tightness.C = 0
		}
	}
	for _, g := range c.Gates {
		if d.int(0, 2) > 0 {
			g.SeatLeak = 0
		}
	}
}

// A leak of nothing asks for the layout with every node. It gives the same flows, pressures, readings and sensitivities,
// and either layout may start from the other's answer.
func TestLayoutsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		c := randomShop(d, d.int(2, 9), d.int(0, 1) == 0)
		tightened(d, c)
		m := model(t, c)
		st := duct.State{Setting: setting(c, rapid.Uint64().Draw(t, "gates")), FilterRatio: d.float(0.5, 3)}
		whole := st
		whole.Leaks = []duct.Leak{{Part: "run:" + c.Network.Runs[0].Name}}
		sparse, full := solve(t, m, st), solve(t, m, whole)
		alike(t, full, sparse)

		again, err := m.Warm(whole, sparse)
		require.NoError(t, err)
		alike(t, full, again)
		assert.LessOrEqual(t, again.Iterations, 1, "there already")
		again, err = m.Warm(st, full)
		require.NoError(t, err)
		alike(t, full, again)
		assert.LessOrEqual(t, again.Iterations, 1, "there already")

		ps := []duct.Param{{Kind: duct.LogFilter}, {Kind: duct.LogLoss}}
		for _, part := range m.LeakParts() { // also where only the full layout has a node, behind shut gates as well
			ps = append(ps, duct.Param{Kind: duct.LeakAt, Part: part})
		}
		want, err := m.Sensitivity(full, ps)
		require.NoError(t, err)
		got, err := m.Sensitivity(sparse, ps)
		require.NoError(t, err)
		for i := range want {
			for k := range want[i] {
				assert.InDelta(t, want[i][k], got[i][k], 1e-5*(1+abs(want[i][k])), "%s by %d", full.Sensors[i].Channel, k)
			}
		}
	})
}

func alike(t require.TestingT, a, b *duct.Result) {
	assert.InDelta(t, a.FanFlow, b.FanFlow, 1e-9)
	for i := range a.Machines {
		assert.InDelta(t, a.Machines[i].Flow, b.Machines[i].Flow, 1e-9, a.Machines[i].Name)
		assert.Equal(t, a.Machines[i].Open, b.Machines[i].Open)
	}
	for i := range a.Runs {
		assert.InDelta(t, a.Runs[i].Flow, b.Runs[i].Flow, 1e-9, a.Runs[i].Name)
		assert.InDelta(t, a.Runs[i].Loss, b.Runs[i].Loss, 1e-5, a.Runs[i].Name)
		// One of them may have the least resistance of a hood's edge, 1e-4 Pa s/m³, before this place.
		assert.InDelta(t, a.Runs[i].StaticStart, b.Runs[i].StaticStart, 1e-4, a.Runs[i].Name)
		assert.InDelta(t, a.Runs[i].StaticEnd, b.Runs[i].StaticEnd, 1e-5, a.Runs[i].Name)
	}
	for i := range a.Sensors {
		assert.InDelta(t, a.Sensors[i].Value, b.Sensors[i].Value, 1e-4, a.Sensors[i].Channel)
	}
}

func abs(x float64) float64 { return max(x, -x) }

// Renew gives what Warm gives, and once it has been called allocates nothing.
func TestRenewAllocatesNothing(t *testing.T) {
	for seed := range uint64(6) {
		d := newDice(seed)
		c := randomShop(d, 8, false)
		if seed%2 == 0 {
			tightened(d, c)
		}
		m := model(t, c)
		a := duct.State{Setting: setting(c, 0b1011), Blocked: map[string]float64{c.Machines[0].Name: 1.3}}
		b := duct.State{Setting: setting(c, 0b0110), Leaks: []duct.Leak{{Part: "run:" + c.Network.Runs[0].Name, Flow: 0.01}}}
		var r, from duct.Result
		round := func() {
			require.NoError(t, m.Renew(&from, a, nil))
			require.NoError(t, m.Renew(&r, b, &from))
			require.NoError(t, m.Renew(&r, a, &r))
		}
		round()
		alike(t, solve(t, m, a), &r)
		if allocs := testing.AllocsPerRun(20, round); !raced {
			assert.Zero(t, allocs, "seed %d", seed)
		}
	}
}
