package trial

import (
	"math/rand/v2"
	"strings"

	"ductward/internal/plant"
	"ductward/internal/shop"
)

// hour is the seconds in one: the trials' sizes are written in m³/h.
const hour = 3600.0

// yearLong is the days of a scenario that lives through whole years.
const yearLong = 364

// month is the days over which growth is told.
const month = 30.0

// scenario is what happens to a plant, and what is measured of it.
type scenario struct {
	name    string
	days    int
	fault   func(c *shop.Collector, seed uint64) []plant.Fault // nil: nothing happens
	measure func(l *life, m Metrics)
}

// Metrics are what a replicate yields: by name, one number or several. A number that is not known is left out.
type Metrics map[string][]float64

func (m Metrics) add(name string, v ...float64) {
	for _, x := range v {
		if known(x) {
			m[name] = append(m[name], x)
		}
	}
}

// scenarios are all that can be put into a plant.
var scenarios = []scenario{
	{"healthy year", yearLong, nil, measureHealthy},
	{"leak 15", 28, leakOf(15, anywhere), measureLeak},
	{"leak 8", 28, leakOf(8, anywhere), measureLeak},
	{"leak 60", 28, leakOf(60, anywhere), measureLeak},
	{"leak 20", 28, leakOf(20, anywhere), measureLeak},
	{"leak 40", 28, leakOf(40, anywhere), measureLeak},
	{"leak of a day", faultDay + 1, leakOf(40, anywhere), measureSize},
	{"leak of a test", faultDay + 5, leakOnFriday(20), measureTested},
	{"leak of a week", faultDay + 5, leakOf(20, anywhere), measureTested},
	{"drop leak 60", 28, leakOf(60, atADrop), measureLeak},
	{"trunk leak 90", 28, leakOf(90, inTheTrunk), measureLeak},
	{"trunk leak 100", 28, leakOf(100, inTheTrunk), measureLeak},
	{believedLeaks, 28, believed, measureBelieved},
	{"growth 2", faultDay + 92, growthOf(2), measureGrowth},
	{"growth 3.5", faultDay + 92, growthOf(3.5), measureGrowth},
	{"growth 5", faultDay + 92, growthOf(5), measureGrowth},
	{"growth 15", faultDay + 29, growthOf(15), measureGrowth},
	{"blocked drop", faultDay + 14, blocked, measureBlocked},
	{"slip 1.5", 28, slipOf(0.015), measureSlip},
	{"slip 1", 28, slipOf(0.010), measureSlip},
	{"filter zero", 28, filterZero, measureZero("filter drop")},
	{"trunk zero", faultDay + 32, trunkZero, measureZero("trunk static")},
	{"plugged tap", 28, pluggedTap, measurePlugged},
	{silentGates, silentFrom + 5, nil, measureGates},
}

// scenarioOf returns a scenario by its name, nil where there is none.
func scenarioOf(name string) *scenario {
	for i := range scenarios {
		if scenarios[i].name == name {
			return &scenarios[i]
		}
	}
	return nil
}

// faultStream parts the draw of what breaks from the plant's own numbers.
const faultStream = 0x7a17

// anywhere lists the places in trunk and drops where a leak may open.
func anywhere(c *shop.Collector) []string { return append(inTheTrunk(c), atADrop(c)...) }

func inTheTrunk(c *shop.Collector) (out []string) {
	for _, r := range c.Network.Runs {
		if strings.HasPrefix(r.Name, "trunk") {
			out = append(out, "run:"+r.Name)
		}
	}
	return out
}

func atADrop(c *shop.Collector) (out []string) {
	for _, g := range c.Gates {
		out = append(out, "drop:"+g.Name)
	}
	return out
}

// drawn returns one of the places by a seed and a size, so that scenarios of one seed do not all break at one place.
func drawn(places []string, seed uint64, size float64) string {
	return places[rand.New(rand.NewPCG(seed, faultStream+uint64(10*size))).IntN(len(places))]
}

// leakOf opens a leak of a size in m³/h at 1500 Pa.
func leakOf(size float64, where func(*shop.Collector) []string) func(*shop.Collector, uint64) []plant.Fault {
	return func(c *shop.Collector, seed uint64) []plant.Fault {
		return []plant.Fault{{Day: faultDay, At: faultHour, Kind: plant.LeakEvent, Name: drawn(where(c), seed, size), Size: size / hour}}
	}
}

// leakOnFriday opens a leak on the morning of a day that ends with a test.
func leakOnFriday(size float64) func(*shop.Collector, uint64) []plant.Fault {
	return func(c *shop.Collector, seed uint64) []plant.Fault {
		f := leakOf(size, anywhere)(c, seed)
		f[0].Day += 4
		return f
	}
}

// growthOf lets a leak grow by so many m³/h a month.
func growthOf(perMonth float64) func(*shop.Collector, uint64) []plant.Fault {
	return func(c *shop.Collector, seed uint64) []plant.Fault {
		f := leakOf(perMonth, anywhere)(c, seed)
		f[0].Size, f[0].PerDay = 0, perMonth/hour/month
		return f
	}
}

// blocked raises the loss of one machine's drop by 35 %.
func blocked(c *shop.Collector, seed uint64) []plant.Fault {
	m := c.Machines[rand.New(rand.NewPCG(seed, faultStream)).IntN(len(c.Machines))]
	return []plant.Fault{{Day: faultDay, At: faultHour, Kind: plant.BlockEvent, Name: m.Name, Size: 1.35}}
}

// slipOf slows the fan by a share.
func slipOf(share float64) func(*shop.Collector, uint64) []plant.Fault {
	return func(*shop.Collector, uint64) []plant.Fault {
		return []plant.Fault{{Day: faultDay, At: faultHour, Kind: plant.SpeedEvent, Size: 1 - share}}
	}
}

// filterZero moves the zero of the filter's sensor by 8 Pa at once.
func filterZero(c *shop.Collector, _ uint64) []plant.Fault {
	return []plant.Fault{{Day: faultDay, At: faultHour, Kind: plant.ZeroEvent, Name: c.ChannelOf("filter drop"), Size: 8}}
}

// trunkZero lets the zero of the trunk's sensor run to 60 Pa within a month.
func trunkZero(c *shop.Collector, _ uint64) []plant.Fault {
	return []plant.Fault{{Day: faultDay, At: faultHour, Kind: plant.ZeroEvent, Name: c.ChannelOf("trunk static"), PerDay: 60 / month}}
}

// pluggedTap plugs the tap of the trunk's static pressure.
func pluggedTap(c *shop.Collector, _ uint64) []plant.Fault {
	return []plant.Fault{{Day: faultDay, At: faultHour, Kind: plant.PlugEvent, Name: c.ChannelOf("trunk static"), Size: 1}}
}
