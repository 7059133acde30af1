package plant

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"ductward/internal/shop"
)

// threeDrops is a 200 mm trunk with three drops and lossless junctions, filter before the fan: a network that two
// independent programs have solved (see TestAgainstSolvedNetwork).
func threeDrops() *shop.Collector {
	fixed := func(ks ...float64) (f []shop.Fitting) {
		for _, k := range ks {
			f = append(f, shop.Fitting{Kind: shop.FixedLoss, Coefficient: k})
		}
		return f
	}
	run := func(name string, from, to shop.End, mm, length, roughMM float64, gate string, ks ...float64) *shop.Run {
		return &shop.Run{Name: name, From: from, To: to, Diameter: mm / 1000, Length: length, Roughness: roughMM / 1000,
			Stretch: 1, Fittings: fixed(ks...), Gate: gate, Rating: math.NaN()}
	}
	machine := func(n string) shop.End { return shop.End{Kind: shop.EndMachine, Name: n} }
	next := func(n string) shop.End { return shop.End{Kind: shop.EndRun, Name: n} }
	at := func(n string) shop.End { return shop.End{Kind: shop.EndJunction, Name: n} }
	none := shop.End{}
	tap := func(name string, q shop.Quantity, run string, end shop.TapEnd) *shop.Sensor {
		return &shop.Sensor{Name: name, Measures: q, Run: run, TapAt: end}
	}
	var points []shop.CurvePoint
	for i, p := range []float64{2600, 2590, 2560, 2490, 2375, 2210, 1985, 1690, 1320, 870, 330} {
		points = append(points, shop.CurvePoint{Flow: float64(i) / 10, Pressure: p, Power: 900 + 200*float64(i)})
	}
	return &shop.Collector{
		Name: "main",
		Fan:  shop.Fan{Points: points, Density: 1.2, Speed: 48},
		// A drop of 520 Pa at 1 m³/s, all of it viscous.
		Filter:    shop.Filter{CleanDrop: 520, CleanFlow: 1},
		Discharge: &shop.Discharge{Diameter: 0.25, Length: 2, Roughness: 0.09e-3, Loss: 1},
		Network: &shop.Network{
			Runs: []*shop.Run{
				run("saw hose", machine("saw"), next("saw drop"), 120, 1.5, 1, "", 0.93),
				run("saw drop", none, at("j1"), 120, 4.5, 0.09, "saw gate", 0.24, 0.12, 0.41),
				run("band hose", machine("band"), next("band drop"), 100, 2, 1, "", 0.49),
				run("band drop", none, at("j1"), 100, 3, 0.09, "band gate", 0.24, 0.12*0, 0.28),
				run("planer hose", machine("planer"), next("planer drop"), 140, 1.2, 1, "", 0.49),
				run("planer drop", none, at("j2"), 140, 3.2, 0.09, "planer gate", 0.24, 0.28),
				run("trunk 1", at("j1"), at("j2"), 200, 6, 0.09, ""),
				run("trunk 2", at("j2"), shop.End{Kind: shop.EndCollector}, 200, 9, 0.09, "", 0.24, 0.24),
			},
			Junctions: []*shop.Junction{{Name: "j1"}, {Name: "j2"}},
		},
		Gates:    []*shop.Gate{{Name: "saw gate", Open: 0.05}, {Name: "band gate", Open: 0.05}, {Name: "planer gate", Open: 0.05}},
		Machines: []*shop.Machine{{Name: "saw"}, {Name: "band"}, {Name: "planer"}},
		Sensors: []*shop.Sensor{
			tap("filter", shop.FilterDrop, "", shop.AtEnd),
			tap("trunk", shop.StaticPressure, "trunk 2", shop.AtEnd),
			tap("velocity", shop.VelocityPressure, "trunk 2", shop.AtEnd),
			tap("power", shop.FanPower, "", shop.AtEnd),
			tap("fan inlet", shop.StaticPressure, "fan", shop.AtEnd),
			tap("far", shop.StaticPressure, "saw drop", shop.AtEnd),
		},
		Rating: math.NaN(),
	}
}

// workshop is threeDrops with wyes, leaking seams, worn seats, a separator, a moved hose and a capped stub.
func workshop() *shop.Collector {
	c := threeDrops()
	c.Separator = &shop.Separator{Loss: 250, Flow: 0.4, Density: 1.2}
	n := c.Network
	n.Runs = append(n.Runs,
		&shop.Run{Name: "moved hose", From: shop.End{Kind: shop.EndSelector, Name: "hose"}, To: shop.End{Kind: shop.EndJunction, Name: "j3"},
			Diameter: 0.125, Length: 4, Roughness: 1e-3, Stretch: 1.2, Gate: "hose gate",
			Fittings: []shop.Fitting{{Kind: shop.Entry, Entry: shop.FlangedEntry}, {Kind: shop.Elbow, Angle: math.Pi / 2, RadiusRatio: 1.5, Make: shop.GoredElbow, Pieces: 5}}},
		&shop.Run{Name: "spare", From: shop.End{Kind: shop.EndStub, Name: "cap"}, To: shop.End{Kind: shop.EndJunction, Name: "j4"},
			Diameter: 0.16, Length: 0.4, Roughness: 0.09e-3, Stretch: 1},
		&shop.Run{Name: "trunk 3", From: shop.End{Kind: shop.EndJunction, Name: "j3"}, To: shop.End{Kind: shop.EndJunction, Name: "j4"},
			Diameter: 0.2, Length: 3, Roughness: 0.09e-3, Stretch: 1},
		&shop.Run{Name: "trunk 4", From: shop.End{Kind: shop.EndJunction, Name: "j4"}, To: shop.End{Kind: shop.EndCollector},
			Diameter: 0.2, Length: 4, Roughness: 0.09e-3, Stretch: 1})
	n.Runs[7].To = shop.End{Kind: shop.EndJunction, Name: "j3"}
	n.Junctions = []*shop.Junction{
		{Name: "j1"},
		{Name: "j2", Kind: shop.Wye, Angle: math.Pi / 4, Straight: "trunk 1", Branch: "planer drop"},
		{Name: "j3", Kind: shop.Wye, Angle: math.Pi / 6, Straight: "trunk 2", Branch: "moved hose"},
		{Name: "j4"},
	}
	n.Stubs = []*shop.Stub{{Name: "cap"}}
	for _, r := range n.Runs {
		r.Tightness = shop.Leakage{Class: "A", C: 0.027e-3, N: 0.65} // EN 12237, class A
	}
	c.Gates = append(c.Gates, &shop.Gate{Name: "hose gate", Open: 0.05})
	for _, g := range c.Gates {
		g.SeatLeak = 3.0 / 3600
	}
	c.Selectors = []*shop.Selector{{Name: "hose", Hose: true, Ports: []string{"router", "sander"}}}
	c.Machines = append(c.Machines, &shop.Machine{Name: "router"}, &shop.Machine{Name: "sander"})
	for _, s := range c.Sensors {
		if s.Run == "trunk 2" {
			s.Run = "trunk 4"
		}
	}
	return c
}

// site is a shop at sea level.
var site = shop.Site{Temperature: 293.15, Humidity: 0.5}

// newPlant makes a plant or fails.
func newPlant(t testing.TB, c *shop.Collector, o Options) *Plant {
	t.Helper()
	p, err := New(c, site, o)
	require.NoError(t, err)
	return p
}

// openGates sets the gates and starts the fan.
func openGates(t testing.TB, p *Plant, gates ...string) {
	t.Helper()
	p.SetFan(true)
	for _, g := range p.c.Gates {
		require.NoError(t, p.SetGate(g.Name, false))
	}
	for _, g := range gates {
		require.NoError(t, p.SetGate(g, true))
	}
	require.NoError(t, p.Err())
}
