package worth

import (
	"fmt"
	"math"
	"slices"

	"ductward/internal/bound"
	"ductward/internal/shop"
)

// Kind says what a candidate is.
type Kind string

// The kinds of candidate.
const (
	FarTap     Kind = "far-tap"   // static pressure at the far end of a branch of the trunk
	TrunkTap   Kind = "trunk-tap" // static pressure between two wyes
	Pressure   Kind = "pressure"  // one of the two that everything rests on
	Velocity   Kind = "velocity-pressure"
	Separator  Kind = "separator-drop"
	Power      Kind = "fan-power"
	FanSpeed   Kind = "fan-speed"
	Air        Kind = "air"
	DailyCheck Kind = "daily-check"
	FridayTest Kind = "weekly-check"
)

// Candidate is something that could be added.
type Candidate struct {
	Kind    Kind
	Text    string
	Sensor  *shop.Sensor // nil: no sensor
	Checks  bound.Checks // that it brings
	Figures Figures
	Score   float64 // 0..1
}

// prefix begins the names of sensors that are drawn in; no shop file has a name with a line break.
const prefix = "\n"

// sensors lists the sensors that could be added.
func sensors(c *shop.Collector) []Candidate {
	var out []Candidate
	add := func(k Kind, text string, s shop.Sensor) {
		s.Name = fmt.Sprint(prefix, len(out))
		out = append(out, Candidate{Kind: k, Text: text, Sensor: &s})
	}
	last := lastRun(c)
	if !has(c, shop.FilterDrop) {
		add(Pressure, "the drop across the filter", shop.Sensor{Measures: shop.FilterDrop})
	}
	if !has(c, shop.StaticPressure) {
		add(Pressure, fmt.Sprintf("a static tap at the end of %s", last), shop.Sensor{Measures: shop.StaticPressure, Run: last})
	}
	for _, run := range branchEnds(c) {
		add(FarTap, fmt.Sprintf("a static tap at the end of %s", run),
			shop.Sensor{Measures: shop.StaticPressure, Run: run})
	}
	for _, run := range between(c, last) {
		add(TrunkTap, fmt.Sprintf("a static tap at the end of %s", run), shop.Sensor{Measures: shop.StaticPressure, Run: run})
	}
	if !has(c, shop.VelocityPressure) {
		add(Velocity, fmt.Sprintf("the velocity pressure at the end of %s", last), shop.Sensor{Measures: shop.VelocityPressure, Run: last})
	}
	if c.Separator != nil && !has(c, shop.SeparatorDrop) {
		add(Separator, "the drop across the separator", shop.Sensor{Measures: shop.SeparatorDrop})
	}
	if !has(c, shop.FanPower) && knowsPower(&c.Fan) {
		add(Power, "the power of the fan", shop.Sensor{Measures: shop.FanPower})
	}
	if !has(c, shop.FanSpeed) && c.Fan.Speed > 0 {
		add(FanSpeed, "the speed of the fan", shop.Sensor{Measures: shop.FanSpeed})
	}
	if !has(c, shop.AirTemperature) {
		add(Air, "the temperature of the air", shop.Sensor{Measures: shop.AirTemperature})
	}
	if !has(c, shop.BarometricPressure) {
		add(Air, "the barometric pressure", shop.Sensor{Measures: shop.BarometricPressure})
	}
	return out
}

// has tells whether a collector measures a quantity.
func has(c *shop.Collector, q shop.Quantity) bool {
	return slices.ContainsFunc(c.Sensors, func(s *shop.Sensor) bool { return s.Measures == q })
}

// tapped tells whether a run has a static tap at its end.
func tapped(c *shop.Collector, run string) bool {
	return slices.ContainsFunc(c.Sensors, func(s *shop.Sensor) bool {
		return s.Measures == shop.StaticPressure && s.Run == run && s.TapAt == shop.AtEnd
	})
}

// knowsPower tells whether the fan's curve says what the fan takes at every flow.
func knowsPower(f *shop.Fan) bool {
	if f.Efficiency > 0 {
		return true
	}
	known := func(p shop.CurvePoint) bool { return !math.IsNaN(p.Power) || p.Efficiency > 0 }
	return len(f.Points) > 0 && !slices.ContainsFunc(f.Points, func(p shop.CurvePoint) bool { return !known(p) })
}

// lastRun names the run that leads to the collector.
func lastRun(c *shop.Collector) string {
	for _, r := range c.Network.Runs {
		if r.To.Kind == shop.EndCollector {
			return r.Name
		}
	}
	return ""
}

// users counts the machines whose air goes through each run.
func users(c *shop.Collector) map[string]int {
	out := map[string]int{}
	for _, m := range c.Machines {
		for _, r := range c.PathOf(m.Name) {
			out[r.Name]++
		}
	}
	return out
}

// branchEnds names, for each end of the trunk, the gated run farthest from it that has no tap: that of the machine with the
// longest way among those whose ways first join there.
func branchEnds(c *shop.Collector) []string {
	many := users(c)
	longest := map[string]float64{} // by the run in which the ways join
	gated := map[string]string{}
	var order []string
	fed := map[string]bool{} // trunk runs that another trunk run leads into
	for _, m := range c.Machines {
		joined, before, gate := "", 0.0, ""
		path := c.PathOf(m.Name)
		for i, r := range path {
			if many[r.Name] > 1 {
				if joined == "" {
					joined = r.Name
				}
				if i+1 < len(path) {
					fed[path[i+1].Name] = true
				}
				continue
			}
			before += r.Length
			if r.Gate != "" {
				gate = r.Name
			}
		}
		if joined == "" || gate == "" {
			continue
		}
		if _, ok := gated[joined]; !ok {
			order = append(order, joined)
		}
		if gated[joined] == "" || before > longest[joined] {
			longest[joined], gated[joined] = before, gate
		}
	}
	var out []string
	for _, joined := range order {
		if !fed[joined] && !tapped(c, gated[joined]) {
			out = append(out, gated[joined])
		}
	}
	return out
}

// mostTrunkTaps are tried; in a long trunk they are spread over it.
const mostTrunkTaps = 12

// between names runs of the trunk without a tap at their ends, the last one left out.
func between(c *shop.Collector, last string) []string {
	many := users(c)
	var all []string
	for _, r := range c.Network.Runs {
		if many[r.Name] > 1 && r.Gate == "" && r.Name != last && !tapped(c, r.Name) {
			all = append(all, r.Name)
		}
	}
	if len(all) <= mostTrunkTaps {
		return all
	}
	var out []string
	for i := range mostTrunkTaps {
		out = append(out, all[i*len(all)/mostTrunkTaps])
	}
	return out
}
