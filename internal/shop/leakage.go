package shop

import (
	"fmt"
	"math"
	"strings"

	"ductward/internal/quantity"
)

// Class is a class of duct tightness: Q = C·A·Δp^0.65.
type Class struct {
	Name string
	C    float64 // m³/s per m² at 1 Pa
}

// Classes are the tightness classes of EN 12237 (round metal ducts) and, with the same limits, of EN 1507 (rectangular
// ones): the largest leakage that a duct of the class may have is 0.027, 0.009, 0.003 and 0.001 l/s per m² times
// Δp^0.65. EN 16798-3 calls them ATC 5 to ATC 2 (ATC 2 from memory).
var Classes = []Class{{"A", 0.027e-3}, {"B", 0.009e-3}, {"C", 0.003e-3}, {"D", 0.001e-3}}

// sealClasses are the leakage classes that the SMACNA HVAC Air Duct Leakage Test Manual, 1st ed., Table 4-1, gives for
// round metal duct of its seal classes, and for flexible duct that is not sealed (note 4). The 2nd edition has 2, 4 and
// 8 for A, B and C.
var sealClasses = map[string]string{
	"SMACNA A": "CL 3", "SMACNA B": "CL 6", "SMACNA C": "CL 12", "SMACNA flexible": "CL 30",
}

// leakExponent is that of EN 12237 and of the SMACNA leakage classes.
const leakExponent = 0.65

func classNames() []string {
	names := make([]string, 0, len(Classes)+7)
	for _, c := range Classes {
		names = append(names, c.Name)
	}
	return append(names, "ATC 3", "SMACNA A", "SMACNA B", "SMACNA C", "SMACNA flexible", "CL 12", "none")
}

// named finds a class by any of its names.
func named(text string) (Leakage, bool) {
	if text == "none" {
		return Leakage{Class: "none", N: leakExponent}, true
	}
	for i, c := range Classes {
		atc := fmt.Sprintf("ATC %d", 5-i)
		if text == c.Name || text == "EN 12237 "+c.Name || text == "EN 1507 "+c.Name || text == atc {
			return Leakage{Class: text, C: c.C, N: leakExponent}, true
		}
	}
	if cl, ok := sealClasses[text]; ok {
		l, ok := smacna(cl)
		l.Class = text
		return l, ok
	}
	return smacna(text)
}

// tightness reads the leakage class of a run's seams under the key. Absent, it is otherwise.
func (o *object) tightness(otherwise Leakage) Leakage {
	v := o.get("tightness")
	switch {
	case v == nil:
		return otherwise
	case v.shape == mapping:
		return o.statedLeakage(v)
	case v.shape != scalar:
		o.wrong(v, fmt.Sprintf("tightness is %s", v), "write a class: "+quoted(classNames()))
		return otherwise
	}
	if l, ok := named(v.text); ok {
		return l
	}
	o.wrong(v, fmt.Sprintf("tightness %s is not known", shown(v.text)), classAdvice(v.text))
	return otherwise
}

// classAdvice says what to write for a class that nobody knows.
func classAdvice(text string) string {
	if n := nearest(text, classNames()); n != "" && len(text) > 2 {
		return fmt.Sprintf("did you mean %q?", n)
	}
	return `write a class of EN 12237 (A to D), one of SMACNA such as "CL 12" or "SMACNA A", "none", or {leak: 2 l/s/m2, at: 1 kPa}`
}

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
