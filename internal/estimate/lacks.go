package estimate

import (
	"fmt"

	"ductward/internal/shop"
)

// missing says what the shop's description does not let the tool tell, and what would.
func (e *Estimator) missing() []string {
	var out []string
	c := e.collector
	switch {
	case e.undrawn:
		out = append(out, "The velocities in the ducts, and where in the trunk a leak is, cannot be told: they need a drawing of the ducts (ducts in the shop file). Until then the ducts are assumed: a drop for each gate, and one trunk.")
		if e.tapUnknown() {
			out = append(out, "Flows and the sizes of leaks are known to a tenth: write the diameter of the duct at the trunk's static tap (diameter).")
		}
	case c.Network == nil:
		out = append(out, "The air at each machine, the velocities and the place of a leak cannot be told: they need a drawing of the ducts (ducts, machines and gates in the shop file).")
	}
	if len(c.Gates) == 0 {
		out = append(out, "Leaks can hardly be told from other changes: they need the positions of the gates.")
	}
	if !e.measures(shop.FilterDrop) {
		out = append(out, "The filter's loading cannot be told: it needs a sensor across the filter.")
	}
	if !e.measures(shop.StaticPressure) {
		out = append(out, "Total flow and leakage cannot be told: they need a sensor for the trunk's static pressure.")
	}
	if e.viewer == nil && e.lump == nil && e.measures(shop.FilterDrop) && e.measures(shop.StaticPressure) {
		out = append(out, "Total flow, and when the filter is due, cannot be told: they need the fan's curve, and the filter's clean drop and limit (fan, filter). Its loading is told over that of the first day.")
	}
	if e.temperature == "" {
		out = append(out, "Density is assumed: a temperature sensor at the trunk would narrow every estimate through the seasons.")
	}
	if c.Network != nil && !e.rated() {
		out = append(out, "No test with all gates shut is ever asked for: the ducts' rating for negative pressure is not entered (rating): write it for the collector, or for every run.")
	}
	return out
}

// measures tells whether a quantity is measured.
func (e *Estimator) measures(q shop.Quantity) bool {
	for _, s := range e.collector.Sensors {
		if s.Measures == q {
			return true
		}
	}
	return false
}

// baselineLacks says what the baseline in the making still needs.
func (e *Estimator) baselineLacks() string {
	days, runs := e.gatheredSize()
	if e.viewer == nil {
		return ""
	}
	return fmt.Sprintf("The baseline needs %d working days with the gates used as usual and %d steady runs; so far it has %d and %d.",
		baselineDays, baselineRuns, days, runs) + e.walkWords()
}
