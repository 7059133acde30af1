package duct

import "math"

// collectorElements lists what the collector costs, from its inlet to the room. The fan is not among them: it pays.
func (w *work) collectorElements() []Element {
	c, m := &w.chain, w.m
	last := leg{int32(len(m.edges) - 1), 1}
	var out []Element
	add := func(kind ElementKind, loss float64, what string, line int) *Element {
		out = append(out, Element{
			Kind: kind, What: what, Line: line, Flow: w.q[last.edge], Loss: loss,
			Velocity: math.NaN(), Coefficient: math.NaN(), Diameter: math.NaN(), Length: math.NaN(),
		})
		return &out[len(out)-1]
	}
	if s := m.shop.Separator; s != nil {
		add(SeparatorElement, c.separator, "separator", 0).Name = s.Name
	}
	add(MediumElement, c.viscous, "filter, its medium and the dust on it", m.shop.Filter.Line)
	if c.housing != 0 {
		add(HousingElement, c.housing, "filter, its housing", m.shop.Filter.Line)
	}
	if pipe := &m.collector.discharge; pipe.area > 0 {
		e := add(DischargeElement, c.discharge, "discharge with its exit", 0)
		duct := w.inDuct(last, pipe.area, c.discharge)
		e.Velocity, e.Coefficient = duct.Velocity, duct.Coefficient
	}
	return out
}

// inletLoss is what a poor inlet takes from the fan's rise (Pa).
func (w *work) inletLoss() float64 {
	return w.scene.fan * w.m.collector.fan.inlet * w.scene.air.Density * signedSquare(w.q[len(w.q)-1])
}
