package shop

import (
	"fmt"
	"math"

	"ductward/internal/quantity"
)

// pairTurns are the words for how an elbow turns against the one before it, from SameWay on.
var pairTurns = []string{"same way", "back", "aside"}

// pair reads {after: {straight: 300 mm, turns: back}}: how an elbow follows the one right before it.
func (o *object) pair(f *Fitting, r *Run) {
	if f.Make == HoseElbow && !r.Flexible {
		o.wrong(o.get("make"), "make: hose is given in a run that is not hose", "name a hose as the run's material, or give the elbow its own make")
	}
	v := o.get("after")
	if v == nil {
		return
	}
	a := o.reader.object(v, o.where+": after", "")
	f.Spacing = a.diameters("straight", r.Diameter)
	turn := a.oneOf("turns", pairTurns)
	f.Pair = SameWay + PairTurn(max(0, turn))
	a.require("straight", `the straight duct between the two elbows, as "straight: 300 mm" or in diameters`)
	a.require("turns", `"turns: same way" (a U), "turns: back" (an offset) or "turns: aside" (into another plane)`)
	a.close()
}

// diameters returns a length as a number of diameters; a plain number is one already.
func (o *object) diameters(key string, diameter float64) float64 {
	w := o.word(key)
	if w == "" {
		return 0
	}
	ratio, ok := pure(w)
	if !ok {
		length, err := quantity.Parse(quantity.Length, w)
		if err != nil {
			o.wrong(o.get(key), fmt.Sprintf("%s %s is neither a number nor a length", key, shown(w)), fmt.Sprintf(`write "%s: 2" for two diameters, or a length such as "300 mm"`, key))
			return 0
		}
		ratio = length / diameter
	}
	if ratio < 0 || ratio > 100 {
		o.wrong(o.get(key), fmt.Sprintf("%s %s is not between 0 and 100 diameters", key, w), "give the straight duct alone, in diameters or as a length")
		return 0
	}
	if math.IsNaN(ratio) { // the diameter could not be read, which is reported
		return 0
	}
	return ratio
}

// repeat gives a fitting as often as its "times" says. Of elbows in a row each follows the one before it; the first
// follows the fitting before, if that is an elbow.
func (p *parts) repeat(o *object, f Fitting, times int, r *Run) []Fitting {
	fittings := make([]Fitting, times)
	for i := range fittings {
		fittings[i] = f
	}
	if f.Pair == NoPair {
		return fittings
	}
	n := len(r.Fittings)
	switch {
	case n > 0 && r.Fittings[n-1].Kind == Elbow:
	case times > 1:
		fittings[0].Pair = NoPair
	default:
		o.wrong(o.get("after"), "after is given, and the fitting before is not an elbow", "list the two elbows one behind the other, or leave it out")
	}
	return fittings
}
