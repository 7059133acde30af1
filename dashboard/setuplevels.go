package dashboard

import (
	"math"

	"ductward/internal/shop"
)

// level is one piece of knowledge about the shop, and what it brings.
type level struct {
	What, Brings string
	Has          bool
}

// levels lists what a shop file can tell of a collector, the poorest first, and what each adds to what can be told.
func levels(c *shop.Collector) []level {
	measures := func(q shop.Quantity) bool {
		for _, x := range c.Sensors {
			if x.Measures == q {
				return true
			}
		}
		return false
	}
	statics := 0
	for _, x := range c.Sensors {
		if x.Measures == shop.StaticPressure {
			statics++
		}
	}
	needs := len(c.Machines) > 0
	for _, m := range c.Machines {
		needs = needs && m.Needs > 0
	}
	return []level{
		{"A sensor across the filter", "how the filter loads, when it was cleaned, and what a cleaning left", measures(shop.FilterDrop)},
		{"A sensor for the trunk’s static pressure", "total flow and leakage, together with the filter", statics > 0},
		{"The fan’s curve", "flow as an amount of air, and the date on which the filter must be cleaned", len(c.Fan.Points) > 0 || len(c.Fan.Coefficients) > 0},
		{"The positions of the gates", "which changes are of one machine’s drop, and which are of all", len(c.Gates) > 0 && gatesTold(c)},
		{"The drawing: ducts, machines and gates", "the air at each machine, velocities, where dust may settle, and where a leak is", c.Network != nil},
		{"What each machine needs", "whether a machine has enough air", needs},
		{"A temperature sensor at the trunk", "density: every figure is narrower through the seasons", measures(shop.AirTemperature)},
		{"A velocity sensor in the trunk", "a check of the filter as a flow meter, and of the scale of all flows", measures(shop.VelocityPressure)},
		{"A second static tap at the far end of the trunk", "which stretch of the trunk leaks, and a worn gate told from a blockage", statics > 1},
		{"The ducts’ rating for negative pressure", "checks with every gate shut, the sharpest look at leaks, and gates opened alone", rated(c)},
	}
}

// gatesTold tells whether the position of every gate is told by something.
func gatesTold(c *shop.Collector) bool {
	for _, g := range c.Gates {
		if g.Position == nil {
			return false
		}
	}
	return true
}

// rated tells whether it is known of every run what suction it bears.
func rated(c *shop.Collector) bool {
	if c.Rating > 0 || c.Network == nil {
		return c.Rating > 0
	}
	for _, r := range c.Network.Runs {
		if math.IsNaN(r.Rating) || r.Rating <= 0 {
			return false
		}
	}
	return true
}
