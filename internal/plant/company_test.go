package plant

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/shop"
)

// annexe is the shop of testdata that has every kind of fitting, hose, gate and junction at least once.
func annexe(t *testing.T) *shop.Collector {
	t.Helper()
	s, problems, err := shop.Load("../../testdata/shops/fittings.yaml")
	require.NoError(t, err)
	require.Empty(t, problems)
	return s.Collector("annexe")
}

// TestEveryFittingIsUnderstood: a plant with all of them has a working point for every set of gates, and each alteration
// moves the machine that it must.
func TestEveryFittingIsUnderstood(t *testing.T) {
	flow := func(alter func(c *shop.Collector), machine string, gates ...string) float64 {
		c := annexe(t)
		alter(c)
		p := newPlant(t, c, Exact())
		openGates(t, p, gates...)
		requireBalanced(t, p)
		tr, err := p.Truth()
		require.NoError(t, err)
		for _, m := range tr.Machines {
			if m.Name == machine {
				return m.Flow
			}
		}
		return math.NaN()
	}
	drawn := func(*shop.Collector) {}
	for _, row := range []struct {
		name, machine, gate string
		better              func(c *shop.Collector)
	}{
		{"hose pulled out", "bench saw cabinet", "saw gate", func(c *shop.Collector) { c.Run("cabinet hose").Pulled = 1 }},
		{"no bend of hose", "bench saw cabinet", "saw gate", func(c *shop.Collector) { c.Run("cabinet hose").Fittings = c.Run("cabinet hose").Fittings[:1] }},
		{"a wider frame", "bench saw cabinet", "saw gate", func(c *shop.Collector) { c.Gate("saw gate").Bore = 0.12 }},
		{"a gate that opens", "planer", "planer gate", func(c *shop.Collector) { c.Gate("planer gate").Opens = 1 }},
		{"a slide for a butterfly", "floor sweep", "sweep gate", func(c *shop.Collector) { c.Gate("sweep gate").Kind = shop.FullBore }},
		{"a tight line", "planer", "planer gate", func(c *shop.Collector) { c.Run("planer line").Hole = 0 }},
		{"a straight inlet", "planer", "planer gate", func(c *shop.Collector) { c.Fan.Inlet = nil }},
		{"a longer inlet", "planer", "planer gate", func(c *shop.Collector) { c.Fan.Inlet.Straight = 5 }},
		{"the drive at full speed", "planer", "planer gate", func(c *shop.Collector) { c.Fan.Running = 1 }},
		{"a splitter with less angle", "bench saw cabinet", "saw gate", func(c *shop.Collector) { c.Junction("saw parting").Angle /= 2 }},
		{"a wye for the tee", "bench saw cabinet", "saw gate", func(c *shop.Collector) { c.Junction("saw tee").Angle /= 2 }},
		{"a well swept tee", "bench saw cabinet", "saw gate", func(c *shop.Collector) { c.Junction("saw tee").Swept = 0.1 }},
	} {
		before := drawn
		if row.name == "a well swept tee" {
			before = func(c *shop.Collector) { c.Junction("saw tee").Swept = 0 }
		}
		assert.Greater(t, flow(row.better, row.machine, row.gate), flow(before, row.machine, row.gate), row.name)
	}
}

// TestElbowsInCompany: two bends that turn on lose less than alone, an offset of mitres more, and none knows of the other
// six diameters on.
func TestElbowsInCompany(t *testing.T) {
	pair := func(kind shop.ElbowMake, turn shop.PairTurn, spacing float64) []shop.Fitting {
		first := shop.Fitting{Kind: shop.Elbow, Angle: math.Pi / 2, RadiusRatio: 1.5, Make: kind}
		second := first
		second.Pair, second.Spacing = turn, spacing
		return []shop.Fitting{first, second, {Kind: shop.Screen, FreeArea: 0.5}}
	}
	on := pair(shop.SmoothElbow, shop.SameWay, 0)
	assert.Less(t, company(on, 0), 1.0)
	assert.Equal(t, company(on, 0), company(on, 1))
	assert.Equal(t, 1.0, company(on, 2), "a screen keeps to itself")
	assert.Greater(t, company(pair(shop.MitredElbow, shop.Back, 1), 0), 1.0)
	assert.Greater(t, company(pair(shop.MitredElbow, shop.Aside, 1), 1), 1.0)
	for _, turn := range []shop.PairTurn{shop.NoPair, shop.SameWay, shop.Back, shop.Aside} {
		assert.Equal(t, 1.0, company(pair(shop.MitredElbow, turn, 6), 0))
		assert.Equal(t, 1.0, company(pair(shop.SmoothElbow, turn, 6), 0))
	}
}

// TestBendOfHose: Crane TP-410, p. A-29, has a 90° bend of 1.5 diameters as 14 diameters of the same pipe.
func TestBendOfHose(t *testing.T) {
	r := &shop.Run{Diameter: 0.1, Roughness: 1e-3}
	rough := 1 / math.Pow(2*math.Log10(3.7/0.01), 2)
	for ratio, n := range map[float64]float64{1: 20, 1.5: 14, 2: 12, 3: 12} {
		k := hoseElbow(shop.Fitting{Kind: shop.Elbow, Angle: math.Pi / 2, RadiusRatio: ratio}, r)
		assert.InEpsilon(t, n*rough, k, 1e-9, "R/D %g", ratio)
	}
	k := hoseElbow(shop.Fitting{Kind: shop.Elbow, Angle: math.Pi / 4, RadiusRatio: 1.25}, r)
	assert.InEpsilon(t, 17*rough/2, k, 1e-9)
}

// TestBellMouthIsTheBetterTheRounder: and one that does not say is well rounded.
func TestBellMouthIsTheBetterTheRounder(t *testing.T) {
	mouth := func(r float64) float64 { return entry(shop.Fitting{Entry: shop.BellmouthEntry, RadiusRatio: r}) }
	assert.Greater(t, mouth(0.02), mouth(0.1))
	assert.Greater(t, mouth(0.1), mouth(0.2))
	assert.Greater(t, mouth(0.1), mouth(0))
	assert.InDelta(t, 0.15, mouth(0.1), 0.06, "Idelchik 1986, diagram 3-4")
}

// TestOpening: 1.78 velocity pressures of a sharp opening by ACGIH Industrial Ventilation, 24th ed.; a narrower one loses
// more.
func TestOpening(t *testing.T) {
	assert.InEpsilon(t, 1.78*16, orifice(0.5), 0.2)
	assert.Greater(t, orifice(0.5), orifice(0.7))
	k, _ := loss(shop.Fitting{Kind: shop.Entry, Entry: shop.OrificeEntry, Bore: 0.06}, &shop.Run{Diameter: 0.12})
	assert.Equal(t, orifice(0.5), k)
}

// TestUncovered: a straight edge half way across a circle leaves half of it.
func TestUncovered(t *testing.T) {
	assert.InDelta(t, 0.5, uncovered(0.5), 1e-12)
	assert.Equal(t, 1.0, uncovered(1))
	assert.Equal(t, 1.0, uncovered(0), "0: not given")
	assert.InDelta(t, 1, uncovered(0.3)+uncovered(0.7), 1e-12)
	assert.Less(t, openGate(&shop.Gate{Open: math.NaN(), Opens: 0.9}, 0.1), openGate(&shop.Gate{Open: math.NaN(), Opens: 0.8}, 0.1))
	assert.Equal(t, 0.3, openGate(&shop.Gate{Open: 0.3, Opens: 0.5}, 0.1), "stated")
}

// TestPowerByEfficiency: 0.5 m³/s at 2000 Pa is 1 kW of air, at an efficiency of 0.6 from 1667 W at the shaft.
func TestPowerByEfficiency(t *testing.T) {
	f := newFan(&shop.Fan{Coefficients: []float64{2600, 0, -2400}, Density: 1.2, Efficiency: 0.6, Inlet: &shop.FanInlet{Diameter: 0.2, Coefficient: 1}})
	assert.InEpsilon(t, 1667, f.shaft(0.5, 1, 1.2), 1e-3, "whatever the inlet takes")
	bare := newFan(&shop.Fan{Coefficients: []float64{2600, 0, -2400}, Density: 1.2})
	assert.True(t, math.IsNaN(bare.shaft(0.5, 1, 1.2)))
	poor, _ := f.rise(0.5, 1, 1.2)
	good, _ := bare.rise(0.5, 1, 1.2)
	v := 0.5 / (math.Pi / 4 * 0.04)
	assert.InEpsilon(t, 0.6*v*v, good-poor, 1e-9)
	n := annexe(t)
	points := newFan(&n.Fan)
	rise, _ := points.points.at(0.5)
	assert.InEpsilon(t, rise*0.5/0.61, points.shaft(0.5, 1, 1.2), 1e-6)
}
