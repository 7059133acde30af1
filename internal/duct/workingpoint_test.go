package duct_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/air"
	"ductward/internal/duct"
	"ductward/internal/shop"
)

// plainShop has one duct that loses k times its velocity pressure and nothing else, a filter, and a fan of straight lines.
func plainShop(k float64, fan ...float64) *shop.Collector {
	c := &shop.Collector{
		Name: "c", Rating: math.NaN(),
		Filter:   shop.Filter{CleanDrop: 100, CleanFlow: 0.5},
		Machines: []*shop.Machine{{Name: "saw", Needs: math.NaN()}},
		Network: &shop.Network{Runs: []*shop.Run{{
			Name: "duct", From: shop.End{Kind: shop.EndMachine, Name: "saw"}, To: shop.End{Kind: shop.EndCollector},
			Diameter: 0.15, Roughness: 9e-5, Stretch: 1, Rating: math.NaN(),
			Fittings: []shop.Fitting{{Kind: shop.FixedLoss, Coefficient: k}},
		}}},
	}
	c.Fan.Density = air.Reference().Density
	for i := 0; i < len(fan); i += 2 {
		c.Fan.Points = append(c.Fan.Points, shop.CurvePoint{Flow: fan[i], Pressure: fan[i+1]})
	}
	return c
}

// crossings are the flows at which the fan of a plainShop has the pressure that duct and filter take, found by looking at
// a hundred thousand of them.
func crossings(k float64, c *shop.Collector) (flows []float64) {
	rho, area := air.Reference().Density, math.Pi/4*0.15*0.15
	surplus := func(q float64) float64 {
		p, i := c.Fan.Points, 1
		for i < len(p)-1 && q > p[i].Flow {
			i++
		}
		rise := p[i-1].Pressure + (p[i].Pressure-p[i-1].Pressure)*(q-p[i-1].Flow)/(p[i].Flow-p[i-1].Flow)
		return rise - k*rho/2*q*q/(area*area) - 100*q/0.5
	}
	const step = 1e-5
	for q := step; q < 1; q += step {
		if surplus(q-step)*surplus(q) <= 0 {
			flows = append(flows, q)
		}
	}
	return flows
}

// A fan with a steep hump has three working points on a duct that meets its rising side, and is stable at the outer two.
func TestSteepHumpHasThreeWorkingPoints(t *testing.T) {
	const k = 6.0
	c := plainShop(k, 0, 200, 0.2, 260, 0.26, 1900, 0.35, 2000, 0.8, 300)
	want := crossings(k, c)
	require.Len(t, want, 3)
	m := model(t, c)
	points, err := m.WorkingPoints(solve(t, m, duct.State{}))
	require.NoError(t, err)
	require.Len(t, points, 3)
	for i, p := range points {
		assert.InDelta(t, want[i], p.Result.FanFlow, 2e-5)
		assert.Equal(t, i != 1, p.Stable, "point %d", i+1)
	}
	_, err = m.Sensitivity(points[1].Result, []duct.Param{{Kind: duct.LogFilter}})
	assert.NoError(t, err, "each is a full result")
}

// As many as there are, wherever the hump is.
func TestEveryWorkingPointIsFound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		k := d.float(0.5, 40)
		low, rise, top := d.float(100, 400), d.float(0.1, 0.4), d.float(600, 2500)
		c := plainShop(k, 0, low, rise, low+20, rise+d.float(0.03, 0.2), top, 0.9, 200)
		want := crossings(k, c)
		for i := 1; i < len(want); i++ {
			if want[i]-want[i-1] < 0.02 { // as close as it may miss
				t.Skip()
			}
		}
		m := model(t, c)
		points, err := m.WorkingPoints(solve(t, m, duct.State{}))
		require.NoError(t, err)
		require.Len(t, points, len(want))
		for i := range want {
			assert.InDelta(t, want[i], points[i].Result.FanFlow, 2e-5)
		}
	})
}

// A shop with an ordinary fan has one working point, which is the answer of the solve, and it is stable.
func TestUsualShopHasOneWorkingPoint(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		c := randomShop(d, d.int(2, 6), d.int(0, 1) == 0)
		m := model(t, c)
		r := solve(t, m, duct.State{Setting: setting(c, rapid.Uint64().Draw(t, "gates"))})
		points, err := m.WorkingPoints(r)
		require.NoError(t, err)
		require.Len(t, points, 1)
		assert.True(t, points[0].Stable)
		assert.InDelta(t, r.FanFlow, points[0].Result.FanFlow, 1e-9)
	})
}
