package dashboard

import (
	"math"

	"ductward/internal/estimate"
	"ductward/internal/quantity"
	"ductward/internal/shop"
)

// scale is one unit of the screen: shown = SI·factor + offset.
type scale struct {
	unit   string
	factor float64
	offset float64
}

// units is what numbers are shown in. All that is stored, computed or sent to programs stays SI.
type units struct {
	system      string // as the shop file and the cookie write it
	flow        scale
	pressure    scale
	velocity    scale
	opening     scale // area of a leak
	diameter    scale
	temperature scale
	barometer   scale
	power       scale
}

// The two systems of units. The inch-pound ones are those of the trade in North America; each factor is that of the
// quantity package, which cites its definition.
var (
	metricUnits = units{
		system: shop.Metric, flow: scale{"m³/h", hour, 0}, pressure: scale{"Pa", 1, 0}, velocity: scale{"m/s", 1, 0},
		opening: scale{"mm²", squareMM, 0}, diameter: scale{"mm", 1000, 0}, temperature: scale{"°C", 1, -273.15},
		barometer: scale{"hPa", 0.01, 0}, power: scale{"kW", 1e-3, 0},
	}
	inchPoundUnits = units{
		system: shop.InchPound, flow: inUnit(quantity.Flow, "cfm", "cfm"), pressure: inUnit(quantity.Pressure, "inH2O", "inH₂O"),
		velocity: inUnit(quantity.Velocity, "fpm", "ft/min"), opening: inUnit(quantity.Area, "in2", "in²"),
		diameter: inUnit(quantity.Length, "in", "in"), temperature: inUnit(quantity.Temperature, "degF", "°F"),
		barometer: inUnit(quantity.Pressure, "inHg", "inHg"), power: inUnit(quantity.Power, "hp", "hp"),
	}
)

// inUnit is the scale of a unit of the quantity package, shown under a name. A name that is not there gives NaN, which a
// test would see in every page.
func inUnit(kind quantity.Kind, name, shown string) scale {
	offset, err := quantity.FromSI(kind, name, 0)
	one, err2 := quantity.FromSI(kind, name, 1)
	if err != nil || err2 != nil {
		return scale{shown, math.NaN(), 0}
	}
	return scale{shown, one - offset, offset}
}

// unitsOf finds a system by its name; another name gives that of the shop file's owner.
func unitsOf(system, owner string) units {
	if system != shop.Metric && system != shop.InchPound {
		system = owner
	}
	if system == shop.InchPound {
		return inchPoundUnits
	}
	return metricUnits
}

// in writes a number with its standard error in a unit.
func (c scale) in(v estimate.Value) string {
	return spread(v.V+c.offset/c.factor, v.SE, c.factor, c.unit)
}

// plain writes a number whose spread is not known.
func (c scale) plain(v float64) string { return c.in(estimate.Value{V: v, SE: math.NaN()}) }

// flowText is a flow with its spread.
func (u units) flowText(v estimate.Value) string { return u.flow.in(v) }

// flowPlain is a flow without a spread.
func (u units) flowPlain(q float64) string { return u.flow.plain(q) }

// pressureText is a pressure without a spread.
func (u units) pressureText(p float64) string { return u.pressure.plain(p) }

// measureOf is how a sensor of some quantity is shown.
func (u units) measureOf(q shop.Quantity) measure {
	m := measures[q]
	take := func(c scale) { m.unit, m.factor, m.offset = c.unit, c.factor, c.offset }
	switch q {
	case shop.FilterDrop, shop.StaticPressure, shop.VelocityPressure, shop.SeparatorDrop:
		take(u.pressure)
	case shop.AirTemperature:
		take(u.temperature)
	case shop.BarometricPressure:
		take(u.barometer)
	case shop.FanPower:
		take(u.power)
	}
	return m
}
