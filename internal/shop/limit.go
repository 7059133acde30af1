package shop

import (
	"fmt"
	"math"
	"strings"

	"ductward/internal/quantity"
)

// limit is what a quantity of a shop may be. Bounds are SI; they are wide, to catch slips of the pen and not to judge
// a design.
type limit struct {
	kind   quantity.Kind
	lo, hi float64
	above  bool // lo itself is not allowed
	unit   string
	tries  []string // units that the same figures may have been meant in, likeliest first
}

// The limits. Where no reason is given, the bound is well outside what workshops have.
var (
	ductDiameter    = limit{kind: quantity.Length, lo: 0.02, hi: 1, unit: "mm", tries: []string{"mm", "cm", "in"}}
	ductLength      = limit{kind: quantity.Length, lo: 0, hi: 500, unit: "m", tries: []string{"mm", "cm", "ft"}}
	roughness       = limit{kind: quantity.Length, lo: 0, hi: 0.02, unit: "mm", tries: []string{"mm", "um"}}
	altitude        = limit{kind: quantity.Length, lo: -430, hi: 5000, unit: "m", tries: []string{"m", "ft"}} // the Dead Sea's shore to the highest towns
	fanFlow         = limit{kind: quantity.Flow, lo: 0, hi: 50, unit: "m3/h", tries: []string{"m3/h", "cfm", "l/s"}}
	someFlow        = limit{kind: quantity.Flow, lo: 0, above: true, hi: 50, unit: "m3/h", tries: []string{"m3/h", "cfm", "l/s"}}
	leakFlow        = limit{kind: quantity.Flow, lo: 0, hi: 1, unit: "m3/h", tries: []string{"m3/h", "cfm", "l/s"}}
	fanPressure     = limit{kind: quantity.Pressure, lo: 0, hi: 30e3, unit: "Pa", tries: []string{"Pa", "mmH2O", "inH2O"}}
	somePressure    = limit{kind: quantity.Pressure, lo: 0, above: true, hi: 30e3, unit: "Pa", tries: []string{"Pa", "mmH2O", "inH2O"}}
	sensorSpan      = limit{kind: quantity.Pressure, lo: 10, hi: 100e3, unit: "Pa", tries: []string{"Pa", "kPa"}}
	binWeight       = limit{kind: quantity.Mass, lo: 0, above: true, hi: 20e3, unit: "kg", tries: []string{"kg", "t"}}
	fanPower        = limit{kind: quantity.Power, lo: 0, hi: 1e6, unit: "kW", tries: []string{"W", "kW"}}
	fanSpeed        = limit{kind: quantity.Frequency, lo: 1, hi: 500, unit: "rpm", tries: []string{"rpm"}}
	airDensity      = limit{kind: quantity.Density, lo: 0.5, hi: 2, unit: "kg/m3", tries: []string{"kg/m3", "lb/ft3"}}
	roomAir         = limit{kind: quantity.Temperature, lo: 233.15, hi: 333.15, unit: "degC", tries: []string{"degC", "degF"}}
	humidity        = limit{kind: quantity.Humidity, lo: 0, hi: 1, unit: "%", tries: []string{"%"}}
	freeArea        = limit{kind: quantity.Ratio, lo: 0.05, hi: 1, unit: "%", tries: []string{"%"}}
	gateOpens       = limit{kind: quantity.Ratio, lo: 0.2, hi: 1, unit: "%", tries: []string{"%"}}  // the table of partly open slides begins there
	hosePulled      = limit{kind: quantity.Ratio, lo: 0.55, hi: 1, unit: "%", tries: []string{"%"}} // hose was measured to 45 % of compression
	fanEfficiency   = limit{kind: quantity.Ratio, lo: 0.05, hi: 0.95, unit: "%", tries: []string{"%"}}
	motorEfficiency = limit{kind: quantity.Ratio, lo: 0.2, hi: 1, unit: "%", tries: []string{"%"}}
	driveSpeed      = limit{kind: quantity.Frequency, lo: 1, hi: 500, unit: "Hz", tries: []string{"Hz"}}
	plainHole       = limit{kind: quantity.Length, lo: 0, above: true, hi: 0.3, unit: "mm", tries: []string{"mm", "cm"}}
	mediaArea       = limit{kind: quantity.Area, lo: 0, above: true, hi: 10e3, unit: "m2", tries: []string{"m2", "ft2"}}
	transport       = limit{kind: quantity.Velocity, lo: 1, hi: 60, unit: "m/s", tries: []string{"m/s", "fpm"}}
	elbowAngle      = limit{kind: quantity.Angle, lo: 1 * degree, hi: 180 * degree, unit: "deg", tries: []string{"deg"}}
	coneAngle       = limit{kind: quantity.Angle, lo: 1 * degree, hi: 180 * degree, unit: "deg", tries: []string{"deg"}}
	wyeAngle        = limit{kind: quantity.Angle, lo: 10 * degree, hi: 90 * degree, unit: "deg", tries: []string{"deg"}}
	debounce        = limit{kind: quantity.Duration, lo: 0, hi: 10, unit: "ms", tries: []string{"ms", "s"}}
	staleness       = limit{kind: quantity.Duration, lo: 1, hi: 7 * 86400, unit: "s", tries: []string{"s", "min"}}
	sampling        = limit{kind: quantity.Duration, lo: 0.1, hi: 3600, unit: "s", tries: []string{"s", "ms"}}
	switchedOff     = limit{kind: quantity.Duration, lo: 0.1, hi: 60, unit: "s", tries: []string{"s", "ms"}}
	betweenOffs     = limit{kind: quantity.Duration, lo: 600, hi: 30 * 86400, unit: "min", tries: []string{"min", "h"}}
	giveUp          = limit{kind: quantity.Duration, lo: 3600, hi: 30 * 86400, unit: "days", tries: []string{"days", "h"}}
	notice          = limit{kind: quantity.Duration, lo: 0, hi: 365 * 86400, unit: "days", tries: []string{"days"}}
	refSuction      = limit{kind: quantity.Pressure, lo: 50, hi: 10e3, unit: "Pa", tries: []string{"Pa", "inH2O"}}
	ductSurface     = limit{kind: quantity.Seepage, lo: 0, hi: 1, unit: "l/s/m2", tries: []string{"l/s/m2"}}
	burden          = limit{kind: quantity.Resistance, lo: 10, hi: 1000, unit: "ohm", tries: []string{"ohm"}}
	signalShare     = limit{kind: quantity.Ratio, lo: 0.01, hi: 0.99, unit: "%", tries: []string{"%"}}
	leakReference   = limit{kind: quantity.Pressure, lo: 1, hi: 10e3, unit: "Pa", tries: []string{"Pa"}}
)

const degree = math.Pi / 180

// breach says how x lies outside the limit, "" if it does not.
func (l limit) breach(x float64) string {
	const rounding = 1e-12 // so that 180 deg is not over 180 deg
	switch {
	case x > l.hi*(1+rounding):
		return fmt.Sprintf("is over the %s limit", l.bound(l.hi))
	case l.above && x <= l.lo:
		return fmt.Sprintf("is not above %s", l.bound(l.lo))
	case x < l.lo-math.Abs(l.lo)*rounding:
		return fmt.Sprintf("is below the least, %s", l.bound(l.lo))
	}
	return ""
}

// bound writes one end of the limit. Metres are plainer for a large length than millimetres.
func (l limit) bound(x float64) string {
	unit := l.unit
	if l.kind == quantity.Length && x >= 1 {
		unit = "m"
	}
	return plain(l.kind, x, unit)
}

// plain writes a round number without a trailing fraction.
func plain(kind quantity.Kind, x float64, unit string) string {
	v, err := quantity.FromSI(kind, unit, x)
	if err != nil {
		return err.Error()
	}
	return fmt.Sprintf("%.6g %s", v, unit)
}

// instead suggests the same figures with another unit that brings them within the limit.
func (l limit) instead(text string, x float64) string {
	if x < 0 && l.lo >= 0 && l.kind == quantity.Pressure {
		return fmt.Sprintf("write its size, such as %q", strings.TrimPrefix(text, "-"))
	}
	if s := l.guess(text); s != "" {
		return fmt.Sprintf("did you mean %q?", s)
	}
	return fmt.Sprintf("write %s from %s to %s", l.kind, l.bound(l.lo), l.bound(l.hi))
}

// advice puts a guess into what the parser wants: a point for a comma, or a unit for figures without one.
func (l limit) advice(text, want string) string {
	point := strings.Replace(text, ",", ".", 1)
	if x, err := quantity.Parse(l.kind, point); err == nil && l.breach(x) == "" {
		return fmt.Sprintf("did you mean %q?", point)
	}
	i := strings.Index(want, "such as ")
	if s := l.guess(text); s != "" && i >= 0 && strings.Trim(text, "0123456789.") == "" {
		return want[:i] + fmt.Sprintf("such as %q", s)
	}
	return want
}

// guess reads the figures of text with the units to try, and returns the first that lies within the limit.
func (l limit) guess(text string) string {
	figures := text[:len(text)-len(strings.TrimLeft(text, "0123456789."))]
	for _, unit := range l.tries {
		x, err := quantity.Parse(l.kind, figures+" "+unit)
		if err == nil && x > 0 && l.breach(x) == "" {
			if unit == "cm" { // the trade counts in mm
				return plain(l.kind, x, "mm")
			}
			return figures + " " + unit
		}
	}
	return ""
}
