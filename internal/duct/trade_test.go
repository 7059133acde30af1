package duct_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/duct"
	"ductward/internal/shop"
)

// What the trade knows, each fact held by a small invented workshop: a saw at the far end of a trunk, a moulder and a
// planer on the way, a fan behind a filter. Every test here is marked "common practice, no source".

// tradeShop is that workshop. The saw's pipe and the trunk are tight, so that only what is asked about changes.
func tradeShop() *shop.Collector {
	at := func(junction string) shop.End { return shop.End{Kind: shop.EndJunction, Name: junction} }
	run := func(name string, from, to shop.End, diameter, length float64, gate string) *shop.Run {
		r := &shop.Run{Name: name, From: from, To: to, Diameter: diameter, Length: length, Roughness: 9e-5, Stretch: 1, Gate: gate}
		if from.Kind == shop.EndMachine {
			r.Fittings = []shop.Fitting{{Kind: shop.Entry, Entry: shop.FlangedEntry}}
		}
		return r
	}
	machine := func(name string) shop.End { return shop.End{Kind: shop.EndMachine, Name: name} }
	c := &shop.Collector{
		Name: "c", Rating: math.NaN(),
		Fan: shop.Fan{Density: 1.2, Points: []shop.CurvePoint{
			{Flow: 0, Pressure: 2600}, {Flow: 0.3, Pressure: 2500}, {Flow: 0.6, Pressure: 1985}, {Flow: 0.8, Pressure: 1320}, {Flow: 1, Pressure: 330},
		}},
		Filter: shop.Filter{CleanDrop: 300, CleanFlow: 0.6},
		Network: &shop.Network{
			Runs: []*shop.Run{
				run("saw drop", machine("saw"), at("moulder wye"), 0.12, 4, "saw gate"),
				run("moulder drop", machine("moulder"), at("moulder wye"), 0.12, 3, "moulder gate"),
				run("trunk 1", at("moulder wye"), at("planer wye"), 0.18, 6, ""),
				run("planer drop", machine("planer"), at("planer wye"), 0.14, 3, "planer gate"),
				run("trunk 2", at("planer wye"), shop.End{Kind: shop.EndCollector}, 0.2, 8, ""),
			},
			Junctions: []*shop.Junction{
				{Name: "moulder wye", Kind: shop.Wye, Angle: math.Pi / 4, Straight: "saw drop", Branch: "moulder drop"},
				{Name: "planer wye", Kind: shop.Wye, Angle: math.Pi / 4, Straight: "trunk 1", Branch: "planer drop"},
			},
		},
	}
	for _, name := range []string{"saw", "moulder", "planer"} {
		c.Machines = append(c.Machines, &shop.Machine{Name: name})
		c.Gates = append(c.Gates, &shop.Gate{Name: name + " gate", Open: 0.05})
	}
	return c
}

// sawWith is the air at the saw, with the named machines open, once the shop is altered.
func sawWith(t *testing.T, alter func(c *shop.Collector), open ...string) float64 {
	t.Helper()
	return airAt(t, alter, nil, append(open, "saw")...)["saw"]
}

// airAt is the air at each machine, m³/s.
func airAt(t *testing.T, alter func(c *shop.Collector), leaks []duct.Leak, open ...string) map[string]float64 {
	t.Helper()
	c := tradeShop()
	alter(c)
	st := duct.State{Setting: shop.Setting{Open: map[string]bool{}}, Leaks: leaks}
	for _, name := range open {
		st.Setting.Open[name+" gate"] = true
	}
	out := map[string]float64{}
	for _, m := range solve(t, model(t, c), st).Machines {
		out[m.Name] = m.Flow
	}
	return out
}

func asDrawn(*shop.Collector) {}

// fitted puts fittings into the saw's drop behind its entry, with as much more straight duct (m) as they need.
func fitted(longer float64, fittings ...shop.Fitting) func(c *shop.Collector) {
	return func(c *shop.Collector) {
		r := c.Run("saw drop")
		r.Fittings = append(r.Fittings, fittings...)
		r.Length += longer
	}
}

func elbow(degrees, ratio float64, kind shop.ElbowMake) shop.Fitting {
	return shop.Fitting{Kind: shop.Elbow, Angle: degrees * math.Pi / 180, RadiusRatio: ratio, Make: kind}
}

// Common practice, no source: two 45° elbows with a straight piece between lose less than one mitred or tight 90°, but
// not less than one of long radius.
func TestTradeTwoFortyFives(t *testing.T) {
	for _, ratio := range []float64{1, 1.5} {
		second := elbow(45, ratio, shop.SmoothElbow)
		second.Pair, second.Spacing = shop.SameWay, 2
		two := sawWith(t, fitted(2*0.12, elbow(45, ratio, shop.SmoothElbow), second))
		assert.Greater(t, two, sawWith(t, fitted(0, elbow(90, 0, shop.MitredElbow))), "r/D %g against a mitre", ratio)
		assert.Greater(t, two, sawWith(t, fitted(0, elbow(90, 0.5, shop.SmoothElbow))), "r/D %g against a tight bend", ratio)
		assert.Less(t, two, sawWith(t, fitted(0, elbow(90, 1.5, shop.SmoothElbow))), "r/D %g against a long radius", ratio)
		assert.Less(t, two, sawWith(t, fitted(0, elbow(90, 2.5, shop.SmoothElbow))), "r/D %g against a longer one", ratio)
	}
}

func total(flows map[string]float64) (sum float64) {
	for _, q := range flows {
		sum += q
	}
	return sum
}

// Common practice, no source: a 45° wye loses less than a tee. With all open the machines share out anew, and it is the
// air of all together that a tee takes away from.
func TestTradeWyeBeatsTee(t *testing.T) {
	tee := func(c *shop.Collector) {
		for _, j := range c.Network.Junctions {
			j.Angle = math.Pi / 2
		}
	}
	handbook := func(alter func(c *shop.Collector)) func(c *shop.Collector) {
		return func(c *shop.Collector) {
			alter(c)
			for _, j := range c.Network.Junctions {
				j.Handbook = true
			}
		}
	}
	for name, law := range map[string]func(func(c *shop.Collector)) func(c *shop.Collector){
		"momentum": func(alter func(c *shop.Collector)) func(c *shop.Collector) { return alter }, "handbook": handbook,
	} {
		for _, machine := range []string{"moulder", "planer"} {
			alone, worse := airAt(t, law(asDrawn), nil, machine), airAt(t, law(tee), nil, machine)
			assert.Greater(t, alone[machine], worse[machine], "%s: %s alone", name, machine)
		}
		all, worse := airAt(t, law(asDrawn), nil, "saw", "moulder", "planer"), airAt(t, law(tee), nil, "saw", "moulder", "planer")
		assert.Greater(t, total(all), total(worse), "%s: all open, all together", name)
	}
}

// Common practice, no source: the large pipe carried to within a short drop of the machine gives it clearly more air
// than the small pipe all the way from the trunk.
func TestTradeLargePipeToTheDrop(t *testing.T) {
	small := sawWith(t, func(c *shop.Collector) { c.Run("saw drop").Diameter, c.Run("saw drop").Length = 0.1, 8 })
	large := sawWith(t, func(c *shop.Collector) {
		drop := c.Run("saw drop")
		long := *drop
		long.Name, long.From, long.Diameter, long.Length, long.Gate, long.Fittings = "saw line", shop.End{}, 0.15, 7, "", nil
		drop.To, drop.Diameter, drop.Length = shop.End{Kind: shop.EndRun, Name: "saw line"}, 0.1, 1
		drop.Fittings = append(drop.Fittings, shop.Fitting{Kind: shop.Expansion, LargeDiameter: 0.15, Angle: math.Pi / 9})
		c.Network.Runs = append(c.Network.Runs, &long)
		c.Junction("moulder wye").Straight = "saw line"
	})
	assert.Greater(t, large, 1.1*small)
}

// Common practice, no source: flexible hose as it is usually laid costs several times the same length of smooth pipe;
// pulled out in full it costs more than that pipe, still.
func TestTradeHoseIsDear(t *testing.T) {
	more := func(length float64) float64 {
		return sawWith(t, func(c *shop.Collector) { c.Run("saw drop").Length += length })
	}
	hose := func(pulled float64) float64 {
		return sawWith(t, func(c *shop.Collector) {
			drop := c.Run("saw drop")
			h := *drop
			h.Name, h.To, h.Length, h.Gate = "saw hose", shop.End{Kind: shop.EndRun, Name: "saw drop"}, 1, ""
			h.Roughness, h.Flexible, h.Pulled = 0.9e-3, true, pulled
			drop.From, drop.Fittings = shop.End{}, nil
			c.Network.Runs = append(c.Network.Runs, &h)
		})
	}
	assert.Less(t, hose(0.85), more(3), "a metre of it, against three of pipe")
	assert.Less(t, hose(1), more(1))
	assert.Greater(t, hose(1), hose(0.9))
}

// leakInto is the state's leak at a part by which a given flow comes in, found by halving.
func leakInto(t *testing.T, part string, inflow float64) []duct.Leak {
	t.Helper()
	m := model(t, tradeShop())
	lo, hi := 0.0, 1.0
	for range 60 {
		mid := (lo + hi) / 2
		leak := []duct.Leak{{Part: part, Flow: mid, Exponent: 0.5}}
		r := solve(t, m, duct.State{Setting: shop.Setting{Open: map[string]bool{"saw gate": true}}, Leaks: leak})
		require.Len(t, r.Leaks, 1)
		if r.Leaks[0].Flow < inflow {
			lo = mid
		} else {
			hi = mid
		}
	}
	return []duct.Leak{{Part: part, Flow: lo, Exponent: 0.5}}
}

// Common practice, no source: the same leak flow at the far end costs the far machine at least as much as at the fan.
func TestTradeFarLeakCostsMore(t *testing.T) {
	const inflow = 0.03
	tight := airAt(t, asDrawn, nil, "saw")["saw"]
	byPlace := []float64{}
	for _, run := range []string{"saw drop", "trunk 1", "trunk 2"} {
		byPlace = append(byPlace, tight-airAt(t, asDrawn, leakInto(t, "run:"+run, inflow), "saw")["saw"])
	}
	assert.Greater(t, byPlace[2], 0.0, "a leak at the fan costs too")
	assert.GreaterOrEqual(t, byPlace[1], byPlace[2])
	assert.GreaterOrEqual(t, byPlace[0], byPlace[1])
}

// Common practice, no source: a capped run costs nothing, be it on a wye or on a plain joint.
func TestTradeCappedRunIsFree(t *testing.T) {
	open := [][]string{{"saw"}, {"planer"}, {"saw", "moulder", "planer"}}
	for _, kind := range []shop.JunctionKind{shop.Wye, shop.Lossless} {
		capped := func(c *shop.Collector) {
			trunk := c.Run("trunk 2")
			after := *trunk
			trunk.To, trunk.Length = shop.End{Kind: shop.EndJunction, Name: "stub wye"}, 3
			after.Name, after.From, after.Length = "trunk 3", trunk.To, 5
			stub := &shop.Run{Name: "spare", From: shop.End{Kind: shop.EndStub, Name: "cap"}, To: trunk.To, Diameter: 0.14, Length: 0.5, Roughness: 9e-5, Stretch: 1}
			c.Network.Runs = append(c.Network.Runs, &after, stub)
			c.Network.Stubs = []*shop.Stub{{Name: "cap"}}
			c.Network.Junctions = append(c.Network.Junctions, &shop.Junction{Name: "stub wye", Kind: kind, Angle: math.Pi / 4, Straight: "trunk 2", Branch: "spare"})
		}
		for _, names := range open {
			want := airAt(t, asDrawn, nil, names...)
			for machine, flow := range airAt(t, capped, nil, names...) {
				assert.InDelta(t, want[machine], flow, 1e-7, "%s with %v open", machine, names)
			}
		}
	}
}

// Common practice, no source: a gate that does not close fully costs every other machine that is open.
func TestTradeLeakingGateCostsAll(t *testing.T) {
	for _, worn := range []string{"saw", "moulder", "planer"} {
		leaking := func(c *shop.Collector) { c.Gate(worn + " gate").SeatLeak = 80.0 / 3600 }
		for _, open := range [][]string{{"saw"}, {"moulder"}, {"planer"}, {"saw", "planer"}, {"moulder", "planer"}, {"saw", "moulder"}} {
			if slices.Contains(open, worn) {
				continue
			}
			before, after := airAt(t, asDrawn, nil, open...), airAt(t, leaking, nil, open...)
			for _, machine := range open {
				assert.Less(t, after[machine], before[machine], "%s, with the %s gate worn and %v open", machine, worn, open)
			}
		}
	}
}
