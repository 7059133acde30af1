package shop

import (
	"fmt"
	"math"
)

// separator reads the separator; "none" and no key mean that there is none.
func (p *parts) separator() *Separator {
	v := p.get("separator")
	if v == nil || v.shape == scalar && v.text == "none" {
		return nil
	}
	o := p.reader.object(v, p.where+": separator", "")
	s := &Separator{Name: o.word("name"), Density: 1.2}
	if s.Name != "" && !o.goodName(o.get("name"), "name", s.Name) {
		s.Name = ""
	}
	loss := o.get("loss")
	o.require("loss", "loss: {drop: 500 Pa, flow: 3000 m3/h}")
	if loss != nil {
		s.Loss, s.Flow = p.dropAtFlow(o, loss, "loss", true)
	}
	s.Density = o.quantity("density", airDensity, s.Density)
	o.close()
	return s
}

// dropAtFlow reads {drop: …, flow: …}.
func (p *parts) dropAtFlow(parent *object, v *value, key string, needsFlow bool) (drop, flow float64) {
	o := p.reader.object(v, parent.where+" "+key, "")
	drop = o.quantity("drop", somePressure, math.NaN())
	flow = o.quantity("flow", someFlow, math.NaN())
	o.require("drop", `drop: 300 Pa`)
	if needsFlow {
		o.require("flow", `the flow at which it was measured, such as "flow: 3000 m3/h"`)
	}
	o.close()
	return drop, flow
}

// filter reads the filter. Without a drawing it may be left out.
func (p *parts) filter() Filter {
	nan := math.NaN()
	f := Filter{Area: nan, CleanDrop: nan, CleanFlow: nan, Limit: nan, LimitFlow: nan}
	v := p.get("filter")
	if v == nil {
		return f
	}
	f.Line = v.line
	o := p.reader.object(v, p.where+": filter", "")
	f.Area = o.quantity("area", mediaArea, nan)
	if clean := o.get("clean"); clean != nil {
		p.clean = true
		f.CleanDrop, f.CleanFlow = p.dropAtFlow(o, clean, "clean", true)
	}
	f.HousingLoss = o.quantity("housing", fanPressure, 0)
	if l := o.get("limit"); l != nil && l.shape == mapping {
		f.Limit, f.LimitFlow = p.dropAtFlow(o, l, "limit", false)
	} else {
		f.Limit = o.quantity("limit", somePressure, nan)
	}
	if f.Limit <= f.CleanDrop && !(f.LimitFlow < f.CleanFlow) {
		o.wrong(o.get("limit"), fmt.Sprintf("limit %s is no more than the clean drop, %s", pressureText(f.Limit), pressureText(f.CleanDrop)), "the limit is the drop at which the filter must be cleaned")
	}
	if f.HousingLoss > f.CleanDrop {
		o.wrong(o.get("housing"), fmt.Sprintf("housing %s is more than the whole clean drop, %s", pressureText(f.HousingLoss), pressureText(f.CleanDrop)), "it is the part of the clean drop that is not the media's")
	}
	o.close()
	return f
}

// discharge reads what the fan blows through; "room" and no key mean that it blows freely.
func (p *parts) discharge() *Discharge {
	v := p.get("discharge")
	if v == nil || v.shape == scalar && v.text == "room" {
		return nil
	}
	o := p.reader.object(v, p.where+": discharge", "")
	d := &Discharge{
		Diameter: o.quantity("diameter", ductDiameter, math.NaN()),
		Length:   o.quantity("length", ductLength, 0),
		Loss:     o.number("loss", 0, 100, 1),
	}
	d.Roughness, _, _ = o.wall(defaultMaterial)
	o.require("diameter", "diameter: 250 mm")
	o.close()
	return d
}
