package shop

import (
	"fmt"
	"math"

	"ductward/internal/quantity"
)

// fan reads the fan. Without a drawing it may be left out.
func (p *parts) fan() Fan {
	f := Fan{Density: 1.2, Speed: math.NaN(), Running: 1}
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
	p.running(o, &f)
	f.Efficiency = o.quantity("efficiency", fanEfficiency, 0)
	f.Motor = o.quantity("motor_efficiency", motorEfficiency, 0)
	f.Inlet = p.fanInlet(o)
	if o.oneOf("between", []string{"straight lines", "smooth"}) == 1 {
		f.Between = Smooth
	}
	points, coefficients := o.get("curve"), o.get("coefficients")
	switch {
	case points != nil && coefficients != nil:
		p.curve = points
		o.wrong(coefficients, "curve and coefficients are both given", "keep one of them")
	case points != nil:
		p.curve = points
		f.Points = p.points(o, points)
		o.powers(points, &f)
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

			Efficiency: c.quantity("efficiency", fanEfficiency, 0),
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

func flowText(q float64) string { return plain(quantity.Flow, q, "m3/h") }

func pressureText(p float64) string { return plain(quantity.Pressure, p, "Pa") }
