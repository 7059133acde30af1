package shop

import (
	"fmt"
	"math"

	"ductward/internal/quantity"
)

// fan reads the fan. Without a drawing it may be left out.
func (p *parts) fan() Fan {
	f := Fan{Density: 1.2, Speed: math.NaN()}
	v := p.get("fan")
	if v == nil {
		return f
	}
	f.Line = v.line
	o := p.reader.object(v, p.where+": fan", "")
	if o.oneOf("position", []string{"after filter", "before filter"}) == 1 {
		f.Position = FanBeforeFilter
	}
	o.require("position", `"after filter" (clean side) or "before filter" (dirty side)`)
	f.Density = o.quantity("density", airDensity, f.Density)
	f.Speed = o.quantity("speed", fanSpeed, f.Speed)
	if o.oneOf("between", []string{"straight lines", "smooth"}) == 1 {
		f.Between = Smooth
	}
	points, coefficients := o.get("curve"), o.get("coefficients")
	switch {
	case points != nil && coefficients != nil:
		o.wrong(coefficients, "curve and coefficients are both given", "keep one of them")
	case points != nil:
		p.curve = points
		f.Points = p.points(o, points)
		f.Humped = o.checkPoints(points, f.Points)
	case coefficients != nil:
		p.curve = coefficients
		f.Coefficients = p.coefficients(o, coefficients)
		f.Humped = o.checkCoefficients(coefficients, f.Coefficients)
	}
	o.close()
	return f
}

// points reads the curve's points in the order of the file. A point that cannot be read is left out.
func (p *parts) points(o *object, v *value) []CurvePoint {
	var points []CurvePoint
	for _, item := range o.entries("curve") {
		c := p.reader.object(item, o.where+" curve", "")
		q := CurvePoint{
			Flow:     c.quantity("flow", fanFlow, math.NaN()),
			Pressure: c.quantity("pressure", fanPressure, math.NaN()),
			Power:    c.quantity("power", fanPower, math.NaN()),
		}
		c.require("flow", `the flow of this point, such as "flow: 1800 m3/h"`)
		c.require("pressure", `the total pressure rise, such as "pressure: 2.4 kPa"`)
		c.close()
		if !math.IsNaN(q.Flow) && !math.IsNaN(q.Pressure) {
			points = append(points, q)
		}
	}
	if v.shape == list && len(v.items) < 2 {
		o.wrong(v, fmt.Sprintf("curve has %d points", len(v.items)), "write at least two, from no flow to the most")
	}
	return points
}

// checkPoints reports a curve that is out of order or rises right of its peak, and tells whether it has a hump left of
// it. Left of the peak of a backward-inclined or axial fan the pressure may dip; right of it a rise is a slip.
func (o *object) checkPoints(v *value, points []CurvePoint) (humped bool) {
	if v.shape != list || len(points) != len(v.items) || len(points) < 2 {
		return false // its points are reported
	}
	peak := 0
	for i, q := range points {
		if q.Pressure > points[peak].Pressure {
			peak = i
		}
		if i > 0 && q.Flow <= points[i-1].Flow {
			o.wrong(v.items[i], fmt.Sprintf("curve point %d has %s, no more flow than the point before it", i+1, flowText(q.Flow)), "list the points by rising flow, each once")
			return false
		}
	}
	for i := peak + 1; i < len(points); i++ {
		if points[i].Pressure > points[i-1].Pressure {
			o.wrong(v.items[i], fmt.Sprintf("curve rises from %s to %s at %s, right of its peak", pressureText(points[i-1].Pressure), pressureText(points[i].Pressure), flowText(points[i].Flow)),
				"check this point against the fan's data sheet: beyond the peak a fan gives less pressure with more flow")
		}
	}
	if points[0].Flow > 0 {
		o.warn(v.items[0].line, fmt.Sprintf("%s: curve starts at %s; it is extended to no flow", o.where, flowText(points[0].Flow)), "add the point of no flow if the data sheet has it")
	}
	if peak > 0 {
		o.warn(v.items[peak].line, fmt.Sprintf("%s: curve has a hump: its peak of %s is at %s; left of it the working point may be ambiguous", o.where, pressureText(points[peak].Pressure), flowText(points[peak].Flow)), "")
	}
	return peak > 0
}

// coefficients reads p = Σ c[i]·Q^i in the units that the file states, and returns it in Pa and m³/s.
func (p *parts) coefficients(o *object, v *value) []float64 {
	c := p.reader.object(v, o.where+" coefficients", "")
	toPa := c.unit("pressure", quantity.Pressure, "Pa")
	toFlow := c.unit("flow", quantity.Flow, "m3/s")
	values := c.get("values")
	c.require("values", "the coefficients from that of Q^0 up, such as [2450, 0, -5200]")
	var out []float64
	scale := toPa
	for _, item := range c.list("values") {
		x, ok := pure(item.text)
		if !ok || item.shape != scalar || math.Abs(x*scale) > 1e12 {
			c.wrong(item, fmt.Sprintf("coefficient %s is not a plain number", item), "write a number without a unit")
			out = nil
			break
		}
		out = append(out, x*scale)
		scale /= toFlow
	}
	if values != nil && (len(out) > 8 || len(values.items) == 0) {
		c.wrong(values, fmt.Sprintf("values holds %d coefficients", len(values.items)), "write from 1 to 8")
		out = nil
	}
	c.close()
	return out
}

// unit reads the name of a unit and returns its factor, 1 if it is missing.
func (o *object) unit(key string, kind quantity.Kind, example string) float64 {
	w := o.word(key)
	if w == "" {
		o.require(key, fmt.Sprintf("the unit that the coefficients are in, such as %q", key+": "+example))
		return 1
	}
	si, err := quantity.ParseUnit(kind, w)
	if err != nil {
		o.wrong(o.get(key), fmt.Sprintf("%s: %v", key, err), "")
		return 1
	}
	return si(1)
}

// checkCoefficients walks the polynomial from no flow to where it gives out.
func (o *object) checkCoefficients(v *value, c []float64) (humped bool) {
	if len(c) == 0 {
		return false
	}
	const steps, most = 2000, 50.0 // to 50 m³/s, the limit of a fan's flow
	at := func(q float64) (sum float64) {
		for i := len(c) - 1; i >= 0; i-- {
			sum = sum*q + c[i]
		}
		return sum
	}
	end := most
	if at(0) <= 0 || at(0) > fanPressure.hi {
		o.wrong(v, fmt.Sprintf("the coefficients give %.6g Pa at no flow", at(0)), "check the units and the order: the first is the pressure at no flow")
		return false
	}
	for q := 0.0; q <= most; q += 0.005 {
		if at(q) <= 0 {
			end = q
			break
		}
	}
	peak, peakAt := at(0), 0.0
	for i := 1; i <= steps; i++ {
		if q := end * float64(i) / steps; at(q) > peak {
			peak, peakAt = at(q), q
		}
	}
	if end == most {
		o.wrong(v, fmt.Sprintf("the coefficients still give %s at %s", pressureText(at(most)), flowText(most)), "check the units and the signs: the pressure must fall to nothing")
		return false
	}
	before := peak
	for i := 1; i <= steps; i++ {
		q := peakAt + (end-peakAt)*float64(i)/steps
		if at(q) > before*(1+1e-9) {
			o.wrong(v, fmt.Sprintf("the curve of the coefficients rises at %s, right of its peak", flowText(q)), "check the signs, or give points instead")
			return false
		}
		before = at(q)
	}
	if peakAt > 0 {
		o.warn(v.line, fmt.Sprintf("%s: curve has a hump: its peak of %s is at %s; left of it the working point may be ambiguous", o.where, pressureText(peak), flowText(peakAt)), "")
	}
	return peakAt > 0
}

func flowText(q float64) string { return plain(quantity.Flow, q, "m3/h") }

func pressureText(p float64) string { return plain(quantity.Pressure, p, "Pa") }

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
