package plant

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/shop"
)

// TestFanBeforeFilter: on the dirty side the fan presses through the filter, and the flow is the same.
func TestFanBeforeFilter(t *testing.T) {
	after, before := threeDrops(), threeDrops()
	before.Fan.Position = shop.FanBeforeFilter
	a, b := newPlant(t, after, Exact()), newPlant(t, before, Exact())
	openGates(t, a, "planer gate")
	openGates(t, b, "planer gate")
	ta, err := a.Truth()
	require.NoError(t, err)
	tb, err := b.Truth()
	require.NoError(t, err)
	assert.InEpsilon(t, ta.FanFlow, tb.FanFlow, 1e-6)
	assert.InEpsilon(t, ta.FilterDrop, tb.FilterDrop, 1e-6)
	assert.InDelta(t, ta.FilterDrop, b.Mean("main/fan inlet")-a.Mean("main/fan inlet"), 0.01, "Pa less of suction at the fan")

	flow := tb.Machines[2].Flow
	require.NoError(t, b.SetLeak("clean-side", 0.03)) // now the dirty housing, under pressure: air gets out before the filter
	tb, err = b.Truth()
	require.NoError(t, err)
	assert.Less(t, tb.FilterDrop, ta.FilterDrop, "as a tear")
	assert.Greater(t, tb.Machines[2].Flow, flow)
}

// TestHumpedFan: left of its peak a curve rises; the plant still finds a working point with every gate shut.
func TestHumpedFan(t *testing.T) {
	c := workshop()
	c.Fan.Points = []shop.CurvePoint{
		{Flow: 0, Pressure: 2300, Power: math.NaN()}, {Flow: 0.2, Pressure: 2550, Power: math.NaN()},
		{Flow: 0.5, Pressure: 2300, Power: math.NaN()}, {Flow: 1, Pressure: 300, Power: math.NaN()},
	}
	p := newPlant(t, c, DefaultOptions(1))
	openGates(t, p)
	requireBalanced(t, p)
	tr, err := p.Truth()
	require.NoError(t, err)
	assert.InDelta(t, 2400, tr.FanRise, 200, "Pa near shut-off")
	assert.True(t, math.IsNaN(tr.FanPower), "no power was given")
}

// TestFanByCoefficients: p = 2600 − 2300·Q² and the same as points meet at the points.
func TestFanByCoefficients(t *testing.T) {
	f := newFan(&shop.Fan{Coefficients: []float64{2600, 0, -2300}, Density: 1.2})
	p, slope := f.rise(0.5, 1, 1.2)
	assert.InDelta(t, 2600-2300*0.25, p, 1e-9)
	assert.InDelta(t, -2300, slope, 1e-9)
	p, _ = f.rise(0.25, 0.5, 1.2)
	assert.InDelta(t, (2600-2300*0.25)/4, p, 1e-9, "half the speed, a quarter of the pressure")
}

// TestSlopesAreDerivatives checks what the solver takes as slopes by central differences at odd points.
func TestSlopesAreDerivatives(t *testing.T) {
	p := newPlant(t, workshop(), DefaultOptions(4))
	duct := &p.net.segments[1]
	seam := seams{rate: 0.01, holes: 0.4, crack: 0.65}
	open := leak{flow: 0.01, exponent: 0.57}
	cases := []struct {
		name string
		f    func(float64) (float64, float64)
		x    float64
	}{
		{"duct, turbulent", func(q float64) (float64, float64) { return duct.resistance(q, 1.2, 1.8e-5) }, 0.213},
		{"duct, backwards", func(q float64) (float64, float64) { return duct.resistance(q, 1.2, 1.8e-5) }, -0.17},
		{"duct, between laminar and turbulent", func(q float64) (float64, float64) { return duct.resistance(q, 1.2, 1.8e-5) }, 0.0041},
		{"duct, laminar", func(q float64) (float64, float64) { return duct.resistance(q, 1.2, 1.8e-5) }, 0.0011},
		{"seam", seam.at, 1234},
		{"seam, blowing out", seam.at, -321},
		{"leak", open.at, 77},
		{"shut gate", open.inverse, 0.0123},
		{"shut gate, at rest", open.inverse, 1e-6},
		{"fan", func(q float64) (float64, float64) { return p.fan.rise(q, 0.97, 1.18) }, 0.431},
		{"filter", func(q float64) (float64, float64) { return p.filter.drop(q, 1.7, 1.18, 1.8e-5) }, 0.37},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			h := 1e-5 * c.x
			up, _ := c.f(c.x + h)
			low, _ := c.f(c.x - h)
			_, slope := c.f(c.x)
			assert.InEpsilon(t, (up-low)/(2*h), slope, 1e-5)
		})
	}
}

// withPorts joins the saw's and the band saw's drops by a selector of two fixed ports instead of a junction.
func withPorts() *shop.Collector {
	c := threeDrops()
	c.Selectors = []*shop.Selector{{Name: "flap", Ports: []string{"saw drop", "band drop"}, SeatLeak: 5.0 / 3600}}
	for _, r := range c.Network.Runs[:4] {
		r.Gate = ""
	}
	c.Network.Runs[1].To = shop.End{Kind: shop.EndSelector, Name: "flap"}
	c.Network.Runs[3].To = shop.End{Kind: shop.EndSelector, Name: "flap"}
	c.Network.Runs[6].From = shop.End{Kind: shop.EndSelector, Name: "flap"}
	c.Network.Junctions = c.Network.Junctions[1:]
	c.Gates = c.Gates[2:]
	return c
}

func TestSelectorOfRuns(t *testing.T) {
	p := newPlant(t, withPorts(), Exact())
	p.SetFan(true)
	for port, open := range []string{"", "saw", "band"} {
		require.NoError(t, p.SetPort("flap", port))
		tr, err := p.Truth()
		require.NoError(t, err)
		requireBalanced(t, p)
		for _, m := range tr.Machines[:2] {
			assert.Equal(t, m.Name == open, m.Open, "port %d, %s", port, m.Name)
			if m.Open {
				assert.Greater(t, m.Flow, 0.2, "m³/s")
			}
		}
		assert.Greater(t, tr.Leakage*3600, 4.0, "m³/h past the shut ports")
	}
}

// TestMachinesBehindSelectorsAreUsed: where there is no gate, the port is what shuts.
func TestMachinesBehindSelectorsAreUsed(t *testing.T) {
	o := DefaultWork(3, monday)
	w, err := NewWorkdays(withPorts(), o)
	require.NoError(t, err)
	p := newPlant(t, withPorts(), DefaultOptions(1))
	used := map[string]bool{}
	for n := range 10 {
		for _, e := range w.Day(n) {
			require.NoError(t, p.Apply(e))
			for _, m := range p.c.Machines {
				if p.FanOn() && p.MachineOpen(m.Name) {
					used[m.Name] = true
				}
			}
		}
	}
	assert.Len(t, used, 3)
}
