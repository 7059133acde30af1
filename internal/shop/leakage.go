package shop

import (
	"math"
	"strings"

	"ductward/internal/quantity"
)

// smacna reads a leakage class of the SMACNA HVAC Air Duct Leakage Test Manual, such as "CL 12":
//
//	F = CL · p^0.65
//
// with F in cfm per 100 ft² of duct surface and p in inches of water.
func smacna(text string) (Leakage, bool) {
	figures, ok := strings.CutPrefix(text, "CL")
	cl, isNumber := pure(strings.TrimSpace(figures))
	if !ok || !isNumber || cl <= 0 || cl > 200 {
		return Leakage{}, false
	}
	seepage, errF := quantity.ParseUnit(quantity.Seepage, "cfm/100ft2")
	water, errP := quantity.ParseUnit(quantity.Pressure, "inH2O")
	if errF != nil || errP != nil {
		return Leakage{}, false
	}
	return Leakage{Class: "CL " + strings.TrimSpace(figures), C: seepage(cl) / math.Pow(water(1), leakExponent), N: leakExponent}, true
}

// statedLeakage reads {leak: 2 l/s/m2, at: 1 kPa, exponent: 0.65}: a measured leakage of the duct's surface.
func (o *object) statedLeakage(v *value) Leakage {
	t := o.reader.object(v, o.where+" tightness", "")
	leak := t.quantity("leak", ductSurface, 0)
	at := t.quantity("at", leakReference, 1)
	n := t.number("exponent", 0.5, 1, leakExponent)
	t.require("leak", "the leakage of a square metre of duct, such as \"leak: 2 l/s/m2\"")
	t.require("at", "the pressure at which it was measured, such as \"at: 1 kPa\"")
	t.close()
	return Leakage{C: leak / math.Pow(at, n), N: n}
}
