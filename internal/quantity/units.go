package quantity

import "math"

// Exact definitions that the factors are made of.
const (
	inch = 0.0254      // m; exact: international yard and pound agreement 1959, NIST SP 811 (2008) App. B.6
	foot = 12 * inch   // m
	mile = 5280 * foot // m

	pound   = 0.45359237 // kg; exact: the same agreement
	gravity = 9.80665    // m/s²; exact: standard acceleration of free fall, 3rd CGPM 1901

	cubicFoot = foot * foot * foot // m³
	cfm       = cubicFoot / 60     // m³/s: 0.3048³/60

	// The conventional millimetre and inch of water: a column of density 1000 kg/m³ under standard gravity, as in
	// ISO 31-3 and NIST SP 811 (2008) App. B.8, footnote to "inch of water, conventional". An inch is 249.08891 Pa.
	// Gauges that are calibrated at 4 °C (249.082 Pa), 60 °F or 68 °F (248.64 Pa) differ from it by up to 0.2 %.
	millimetreOfWater = gravity        // Pa
	inchOfWater       = 25.4 * gravity // Pa

	// The conventional millimetre of mercury: 13 595.1 kg/m³ under standard gravity (NIST SP 811 App. B.8).
	millimetreOfMercury = 13.5951 * gravity // Pa

	psi        = pound * gravity / (inch * inch) // Pa
	horsepower = 550 * foot * pound * gravity    // W: mechanical, 550 foot pound-force a second
	metricHP   = 75 * gravity                    // W: 75 kilogram-force metre a second
)

// unit is one unit of a kind: SI = value·factor + offset.
type unit struct {
	name    string   // as it is printed and suggested
	aliases []string // what is accepted beside it
	factor  float64
	offset  float64
}

// units lists what is accepted for each kind, the most usual first. The order is that of the error messages.
var units = [...][]unit{
	Length: {
		{name: "mm", factor: 1e-3}, {name: "cm", factor: 1e-2}, {name: "m", factor: 1},
		{name: "in", aliases: []string{"inch", "inches", `"`}, factor: inch},
		{name: "ft", aliases: []string{"foot", "feet"}, factor: foot},
		{name: "um", aliases: []string{"µm", "μm"}, factor: 1e-6},
	},
	Area: {
		{name: "m2", factor: 1}, {name: "cm2", factor: 1e-4}, {name: "mm2", factor: 1e-6},
		{name: "ft2", aliases: []string{"sq ft"}, factor: foot * foot},
		{name: "in2", aliases: []string{"sq in"}, factor: inch * inch},
	},
	Volume: {
		{name: "l", aliases: []string{"L"}, factor: 1e-3}, {name: "m3", factor: 1},
		{name: "ft3", aliases: []string{"cu ft"}, factor: cubicFoot},
	},
	Flow: {
		{name: "m3/h", factor: 1.0 / 3600}, {name: "m3/s", factor: 1}, {name: "m3/min", factor: 1.0 / 60},
		{name: "l/s", aliases: []string{"L/s"}, factor: 1e-3},
		{name: "cfm", aliases: []string{"CFM", "ft3/min"}, factor: cfm},
	},
	Pressure: {
		{name: "Pa", factor: 1}, {name: "kPa", factor: 1e3}, {name: "hPa", factor: 1e2},
		{name: "mbar", factor: 1e2}, {name: "bar", factor: 1e5},
		{name: "mmH2O", aliases: []string{"mmWC", "mm wc"}, factor: millimetreOfWater},
		{name: "inH2O", aliases: []string{"inWC", "in wc", "in.wg", "inwg", "in wg", "in. w.g.", "in H2O"}, factor: inchOfWater},
		{name: "mmHg", factor: millimetreOfMercury},
		{name: "inHg", factor: 25.4 * millimetreOfMercury},
		{name: "psi", factor: psi},
	},
	Temperature: {
		{name: "degC", aliases: []string{"°C", "C", "℃"}, factor: 1, offset: 273.15}, // ITS-90; NIST SP 811 B.8
		{name: "K", factor: 1},
		{name: "degF", aliases: []string{"°F", "F"}, factor: 5.0 / 9, offset: 459.67 * 5 / 9},
	},
	Velocity: {
		{name: "m/s", factor: 1}, {name: "km/h", factor: 1 / 3.6},
		{name: "fpm", aliases: []string{"ft/min"}, factor: foot / 60}, {name: "ft/s", factor: foot},
		{name: "mph", factor: mile / 3600},
	},
	Density: {
		{name: "kg/m3", factor: 1}, {name: "g/l", aliases: []string{"g/L"}, factor: 1},
		{name: "lb/ft3", factor: pound / cubicFoot},
	},
	Duration: {
		{name: "s", aliases: []string{"sec"}, factor: 1}, {name: "ms", factor: 1e-3},
		{name: "min", aliases: []string{"minute", "minutes"}, factor: 60},
		{name: "h", aliases: []string{"hour", "hours"}, factor: 3600},
		{name: "days", aliases: []string{"d", "day"}, factor: 86400},
		{name: "weeks", aliases: []string{"week"}, factor: 7 * 86400},
	},
	Angle: {
		{name: "deg", aliases: []string{"°", "degree", "degrees"}, factor: math.Pi / 180}, {name: "rad", factor: 1},
	},
	Ratio:    {{name: "%", aliases: []string{"percent"}, factor: 0.01}},
	Humidity: {{name: "%", aliases: []string{"%RH", "% RH", "percent"}, factor: 0.01}},
	Power: {
		{name: "kW", factor: 1e3}, {name: "W", factor: 1},
		{name: "hp", aliases: []string{"HP"}, factor: horsepower}, {name: "PS", factor: metricHP},
	},
	Frequency: {
		{name: "rpm", aliases: []string{"1/min", "min-1", "r/min"}, factor: 1.0 / 60}, {name: "Hz", aliases: []string{"1/s"}, factor: 1},
	},
	Seepage: {
		{name: "l/s/m2", aliases: []string{"L/s/m2", "l/(s m2)", "l/s m2"}, factor: 1e-3},
		{name: "m3/h/m2", factor: 1.0 / 3600}, {name: "m3/s/m2", factor: 1},
		{name: "cfm/100ft2", aliases: []string{"cfm/100 ft2"}, factor: cfm / (100 * foot * foot)},
	},
	Mass: {
		{name: "kg", factor: 1}, {name: "g", factor: 1e-3}, {name: "t", factor: 1e3},
		{name: "lb", aliases: []string{"lbs"}, factor: pound},
	},
	Resistance: {{name: "ohm", aliases: []string{"Ω", "Ω", "ohms"}, factor: 1}, {name: "kohm", aliases: []string{"kΩ", "kΩ"}, factor: 1e3}},
}

// Units lists the units that a kind accepts, the most usual first.
func Units(kind Kind) []string {
	if !kind.valid() {
		return nil
	}
	names := make([]string, len(units[kind]))
	for i, u := range units[kind] {
		names[i] = u.name
	}
	return names
}

// find looks a unit up among those of a kind, by its name or an alias, exactly as written.
func find(kind Kind, name string) (unit, bool) {
	for _, u := range units[kind] {
		if u.name == name {
			return u, true
		}
		for _, a := range u.aliases {
			if a == name {
				return u, true
			}
		}
	}
	return unit{}, false
}
