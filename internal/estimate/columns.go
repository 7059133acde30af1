package estimate

import (
	"slices"
	"strings"

	"ductward/internal/duct"
	"ductward/internal/shop"
)

// columns lays out the parameters that the readings may tell of. The first Changes of them may change for good; the
// two after them are nuisances of each day.
type columns struct {
	zones    []string // leak parts, in the model's order; the last ones may name a part again, see straddle
	gated    []bool   // by zone: a run on the machines' side of a gate
	straddle [3]int   // zones: the run with the last tap, what lies behind it, and half in each; the last one 0 where there is none
	machines []string // whose drop may be blocked
	trunk    []string // runs that serve several machines, which may be choked
	channels []string // sensors that the model predicts
	sensor   []int    // index of each channel among the model's sensors
	sensors  []*shop.Sensor
	ofFilter []bool  // by channel: it measures the filter's drop
	meters   []meter // by channel

	filterFirst bool // the air meets the filter before the fan

	block0, choke0, tear, housing, fan, gain0 int
	changes                                   int // number of parameters that may change
	filter, density                           int // nuisances
	all                                       int
}

// newColumns lays out the parameters of a collector.
func newColumns(c *shop.Collector, m *duct.Model) columns {
	k := columns{zones: zones(c, m), filterFirst: c.Fan.Position != shop.FanBeforeFilter}
	k.straddleTap(c)
	for _, machine := range c.Machines {
		if len(c.PathOf(machine.Name)) > 0 {
			k.machines = append(k.machines, machine.Name)
		}
	}
	for _, z := range k.zones {
		name, ok := strings.CutPrefix(z, "run:")
		k.gated = append(k.gated, ok && behindGate(c, name))
	}
	k.addChannels(c, m)
	k.trunk = trunkRuns(c)
	k.block0 = len(k.zones)
	k.choke0 = k.block0 + len(k.machines)
	k.tear = k.choke0 + len(k.trunk)
	k.housing = k.tear + 1
	k.fan = k.housing + 1
	k.gain0 = k.fan + 2
	if k.metered() {
		k.gain0++
	}
	k.changes = k.gain0 + len(k.channels)
	k.filter, k.density = k.changes, k.changes+1
	k.all = k.changes + 2
	return k
}

// addChannels lists the sensors that the model predicts. The fan's own meters serve beside pressures, not alone.
func (k *columns) addChannels(c *shop.Collector, m *duct.Model) {
	pressures := 0
	for i, ch := range m.SensorChannels() {
		s := c.Sensor(strings.TrimPrefix(ch, c.Name+"/"))
		q := s.Measures
		known, ok := meterOf(q)
		if !ok {
			continue
		}
		known.byMass(c, s)
		k.channels = append(k.channels, ch)
		k.sensor = append(k.sensor, i)
		k.sensors = append(k.sensors, s)
		k.ofFilter = append(k.ofFilter, q == shop.FilterDrop)
		k.meters = append(k.meters, known)
		if !known.fan {
			pressures++
		}
	}
	if pressures == 0 {
		k.channels, k.sensor, k.ofFilter, k.meters = nil, nil, nil, nil
	}
}

// straddleTap adds a zone for a run whose tap is at the collector's end: what enters behind the tap does not pass it, and
// nobody knows on which side of the tap a seam opens. The third possibility is half on either side.
func (k *columns) straddleTap(c *shop.Collector) {
	inlet := slices.Index(k.zones, "inlet:"+c.Name)
	for _, s := range c.Sensors {
		r := c.Run(s.Run)
		at := slices.Index(k.zones, "run:"+s.Run)
		if inlet < 0 || at < 0 || r == nil || r.To.Kind != shop.EndCollector {
			continue
		}
		k.straddle = [3]int{at, inlet, len(k.zones)}
		k.zones = append(k.zones, k.zones[at])
		return
	}
}

// isRepeat tells whether a zone names a part that an earlier one names.
func (k *columns) isRepeat(zone int) bool { return zone > 0 && zone == k.straddle[2] }

// trunkRuns lists the runs that serve several machines.
func trunkRuns(c *shop.Collector) []string {
	many := c.Served()
	var out []string
	for _, r := range c.Network.Runs {
		if many[r.Name] > 1 && r.Gate == "" {
			out = append(out, r.Name)
		}
	}
	return out
}

// zones chooses the leak parts that are told apart: each run of the trunk, each gate's seat, each drop on the trunk's
// side of its gate, each machine's side. A run that belongs to one machine alone, or that has the gate, is covered by its
// drop or open side unless a tap parts it from them.
func zones(c *shop.Collector, m *duct.Model) []string {
	var out []string
	for _, part := range m.LeakParts() {
		if name, ok := strings.CutPrefix(part, "run:"); ok && !c.LeaksApart(name) {
			continue
		}
		out = append(out, part)
	}
	return out
}

// behindGate tells whether a gate can shut a run off from the collector.
func behindGate(c *shop.Collector, name string) bool {
	return slices.ContainsFunc(wayFrom(c, name), func(r *shop.Run) bool { return r.Gate != "" })
}

// wayFrom lists the runs from one on down to the collector.
func wayFrom(c *shop.Collector, name string) []*shop.Run {
	var out []*shop.Run
	for range c.Network.Runs { // a ring has no end
		r := c.Run(name)
		if r == nil {
			break
		}
		out = append(out, r)
		switch r.To.Kind {
		case shop.EndRun:
			name = r.To.Name
		case shop.EndJunction, shop.EndSelector:
			name = leaving(c, r.To)
		default:
			return out
		}
	}
	return out
}

// leaving names the first run that leaves a junction or selector, "" if there is none.
func leaving(c *shop.Collector, end shop.End) string {
	for _, r := range c.Network.Runs {
		if r.From == end {
			return r.Name
		}
	}
	return ""
}

// isDuctPressure tells whether a channel is a pressure that the duct model predicts.
func isDuctPressure(c *shop.Collector, channel string) bool {
	for _, s := range c.Sensors {
		if c.Name+"/"+s.Name == channel {
			known, ok := meterOf(s.Measures)
			return ok && !known.fan
		}
	}
	return false
}

// leakExponent is that of a leak of which only its flow is known: between a hole (0.5) and a seam (0.65; Dols and Walton
// 2002 give 0.6 to 0.7 where none is reported), and leakExponentError its standard error: that of all from 0.5 to 0.67 alike.
const (
	leakExponent      = 0.57
	leakExponentError = 0.05
)

// params lists the model's parameters in the order of the columns that the model differentiates by: leaks, blockages,
// what passes the filter's medium, what its housing loses, fan, what else may be wrong with the fan, filter, density. A sensor's scale needs no model.
func (k *columns) params() []duct.Param {
	var ps []duct.Param
	for _, z := range k.zones {
		ps = append(ps, duct.Param{Kind: duct.LeakAt, Part: z, Exponent: leakExponent})
	}
	for _, m := range k.machines {
		ps = append(ps, duct.Param{Kind: duct.LogBlock, Part: m})
	}
	for _, r := range k.trunk {
		ps = append(ps, duct.Param{Kind: duct.LogChoke, Part: r})
	}
	ps = append(ps, duct.Param{Kind: duct.Past}, duct.Param{Kind: duct.HousingLoss}, duct.Param{Kind: duct.LogFanSpeed})
	if k.metered() {
		ps = append(ps, duct.Param{Kind: duct.LogFanFactor})
	}
	return append(ps,
		duct.Param{Kind: duct.LogThrottle},
		duct.Param{Kind: duct.LogFilter},
		duct.Param{Kind: duct.LogDensity})
}

// machine returns the column of a machine's blockage, -1 if it has none.
func (k *columns) machine(name string) int {
	for i, m := range k.machines {
		if m == name {
			return k.block0 + i
		}
	}
	return -1
}

// changeKind is what a column is about.
type changeKind int

// The kinds of change.
const (
	leakChange    changeKind = iota
	blockChange              // of a machine's drop
	chokeChange              // of a run that serves several
	tearChange               // of what passes the filter's medium: it is torn, or sits badly
	fanChange                // of the fan's speed
	wheelChange              // of the pressure that the fan makes at its speed
	behindChange             // a restriction at the fan, behind every tap
	scaleChange              // of a sensor
	housingChange            // none: what the filter's housing loses beyond the shop file's, in Pa, is the same always, and shows through another filter
)

// kind tells what a column is about.
func (k *columns) kind(col int) changeKind {
	switch {
	case col < k.block0:
		return leakChange
	case col < k.choke0:
		return blockChange
	case col < k.tear:
		return chokeChange
	case col == k.tear:
		return tearChange
	case col == k.housing:
		return housingChange
	case col == k.fan:
		return fanChange
	case col < k.gain0-1:
		return wheelChange
	case col < k.gain0:
		return behindChange
	}
	return scaleChange
}

// part names the column of a change as findings name it.
func (k *columns) part(col int) string {
	switch k.kind(col) {
	case leakChange:
		return k.zones[col]
	case blockChange:
		return "blockage:" + k.machines[col-k.block0]
	case chokeChange:
		return "choked:" + k.trunk[col-k.choke0]
	case tearChange:
		return "past-filter"
	case housingChange:
		return "filter-housing" // which nothing is ever told of
	case fanChange:
		return "fan"
	case wheelChange:
		return "fan-wheel"
	case behindChange:
		return "behind-tap"
	}
	return "sensor:" + k.channels[col-k.gain0]
}

// hasTwin tells whether a column stands for two parts: air that enters between filter and fan takes from every pressure what a
// restriction behind the tap does.
func (k *columns) hasTwin(col int) bool { return k.kind(col) == behindChange && k.filterFirst }

// isScale tells whether a column is the scale of a sensor that the other sensors can judge. The filter's own cannot be
// told from its resistance.
func (k *columns) isScale(col int) bool {
	return k.kind(col) == scaleChange && col < k.changes && !k.ofFilter[col-k.gain0]
}

// isLeak tells whether a column is a leak.
func (k *columns) isLeak(col int) bool { return col < k.block0 }

// isFlow tells whether a column is a flow at the reference suction, and not the log of a factor.
func (k *columns) isFlow(col int) bool { return k.isLeak(col) || k.kind(col) == tearChange }
