package dashboard

import (
	"math"
	"time"

	"ductward/internal/shop"
)

// The shop of these tests is invented: a workshop for sash windows and stairs with eight drops on one trunk.

// testMachine is one drop of the test shop.
type testMachine struct {
	name  string
	needs float64 // m³/h
	duct  float64 // mm
}

var testMachines = []testMachine{
	{"panel saw", 1200, 140}, {"thicknesser", 1150, 140}, {"tenoner", 1250, 160}, {"spindle moulder", 1100, 140},
	{"band saw", 850, 120}, {"stair router", 950, 125}, {"bench saw", 800, 120}, {"edge sander", 700, 100},
}

// testShop is the shop with its drawing: the drops join the trunk one after another.
func testShop() *shop.Shop {
	nan := math.NaN()
	c := &shop.Collector{Name: "main", Rating: 4000, Transport: 20, Network: &shop.Network{},
		Fan:       shop.Fan{Points: []shop.CurvePoint{{Flow: 0, Pressure: 3200}, {Flow: 0.7, Pressure: 2900}, {Flow: 1.4, Pressure: 900}}, Density: 1.2, Speed: nan},
		Separator: &shop.Separator{Name: "cyclone", Loss: 600, Flow: 1, Density: 1.2},
		Filter:    shop.Filter{Area: 60, CleanDrop: 300, CleanFlow: 1, Limit: 1200, LimitFlow: 1}}
	trunk := len(testMachines) - 1
	for i, m := range testMachines {
		c.Machines = append(c.Machines, &shop.Machine{Name: m.name, Needs: m.needs / 3600})
		c.Gates = append(c.Gates, &shop.Gate{Name: m.name + " gate"})
		to := shop.End{Kind: shop.EndJunction, Name: joint(max(i, 1))}
		c.Network.Runs = append(c.Network.Runs, &shop.Run{Name: m.name + " drop", From: shop.End{Kind: shop.EndMachine, Name: m.name},
			To: to, Diameter: m.duct / 1000, Length: 4, Gate: m.name + " gate"})
	}
	for i := 1; i <= trunk; i++ {
		to := shop.End{Kind: shop.EndJunction, Name: joint(i + 1)}
		straight := trunkName(i - 1)
		if i == 1 {
			straight = testMachines[0].name + " drop"
		}
		if i == trunk {
			to = shop.End{Kind: shop.EndCollector}
		}
		c.Network.Runs = append(c.Network.Runs, &shop.Run{Name: trunkName(i), From: shop.End{Kind: shop.EndJunction, Name: joint(i)}, To: to, Diameter: 0.2, Length: 3})
		c.Network.Junctions = append(c.Network.Junctions, &shop.Junction{Name: joint(i), Kind: shop.Wye, Straight: straight})
	}
	for _, x := range []*shop.Sensor{{Name: "filter drop", Measures: shop.FilterDrop}, {Name: "trunk", Measures: shop.StaticPressure},
		{Name: "pitot", Measures: shop.VelocityPressure}, {Name: "air", Measures: shop.AirTemperature}} {
		x.Interval = time.Second
		c.Sensors = append(c.Sensors, x)
	}
	london, err := time.LoadLocation("Europe/London")
	if err != nil {
		london = time.UTC // no zone files: the tests that name a zone say so themselves
	}
	return &shop.Shop{Name: "Hollins Lane sash & stair", Site: shop.Site{Location: london}, Collectors: []*shop.Collector{c}}
}

func joint(i int) string     { return "wye " + string(rune('0'+i)) }
func trunkName(i int) string { return "trunk " + string(rune('0'+i)) }
