package shop

import (
	"fmt"
	"math"
	"strings"

	"ductward/internal/quantity"
)

// fittingKeys are the keys that say what a fitting is; each fitting has exactly one.
var fittingKeys = []string{"elbow", "entry", "contraction", "expansion", "screen", "loss", "measured"}

// fitting reads one fitting of a run, as often as its "times" says.
func (p *parts) fitting(v *value, run *object, r *Run) []Fitting {
	o := p.reader.object(v, run.where+": fitting", "")
	f := Fitting{Line: v.line}
	given := ""
	for _, key := range fittingKeys {
		w := o.get(key)
		if w == nil {
			continue
		}
		if given != "" {
			o.wrong(w, fmt.Sprintf("%s and %s are one fitting", given, key), `write each fitting behind its own "- "`)
			continue
		}
		given = key
		o.where = run.where
		p.fill(&f, key, o, r)
	}
	f.What = o.word("what")
	times := o.count("times", 1, 50, 1)
	if given == "" && !o.void {
		o.close()
		o.wrong(v, "it does not say what it is", "write one of "+strings.Join(fittingKeys, ", "))
		return nil
	}
	o.close()
	return p.repeat(o, f, times, r)
}

// fill reads what one kind of fitting needs.
func (p *parts) fill(f *Fitting, key string, o *object, r *Run) {
	switch key {
	case "elbow":
		f.Kind = Elbow
		o.elbow(f, r.Diameter)
		o.pair(f, r)
	case "entry":
		f.Kind = Entry
		f.Entry = EntryKind(max(0, o.oneOf("entry", []string{"plain", "flanged", "bellmouth", "orifice"})))
		o.opening(f, r.Diameter)
		o.mouth(f, r.Diameter)
	case "contraction":
		f.Kind = Contraction
		f.LargeDiameter, f.Angle = p.cone(o, key, "from", r.Diameter)
	case "expansion":
		f.Kind = Expansion
		f.LargeDiameter, f.Angle = p.cone(o, key, "to", r.Diameter)
	case "screen":
		f.Kind = Screen
		f.FreeArea = o.quantity("screen", freeArea, 1)
	case "loss":
		f.Kind = FixedLoss
		f.Coefficient = o.number("loss", 0, 1000, 0)
	case "measured":
		f.Kind = MeasuredLoss
		f.MeasuredDrop, f.MeasuredFlow = p.dropAtFlow(o, o.get("measured"), "measured", true)
	}
}

// elbow reads turn, radius and make. The radius may be a plain number of diameters or a length.
func (o *object) elbow(f *Fitting, diameter float64) {
	f.Angle = o.quantity("elbow", elbowAngle, 90*degree)
	o.where += ": elbow"
	f.Make = ElbowMake(max(0, o.oneOf("make", elbowMakes)))
	f.RadiusRatio = math.NaN()
	o.require("make", `"make: smooth", "make: gored" or "make: mitred"`)
	if f.Make == MitredElbow {
		if w := o.get("radius"); w != nil {
			o.wrong(w, "radius is given for a mitred elbow, which has none", "leave it out")
		}
	} else {
		f.RadiusRatio = o.radius(diameter)
		o.require("radius", `the centre-line radius, as "radius: 1.5" diameters or "radius: 180 mm"`)
	}
	f.Pieces = o.count("pieces", 2, 20, 0)
	if f.Make == GoredElbow {
		o.require("pieces", "how many pieces it is made of, such as \"pieces: 5\"")
	} else if w := o.get("pieces"); w != nil {
		o.wrong(w, "pieces is given for an elbow that is not gored", `leave it out, or write "make: gored"`)
	}
}

// opening reads the bore of an orifice entry.
func (o *object) opening(f *Fitting, diameter float64) {
	f.Bore = o.quantity("bore", ductDiameter, 0)
	v := o.get("bore")
	switch {
	case f.Entry == OrificeEntry:
		o.require("bore", "the diameter of the opening, such as \"bore: 70 mm\"")
		if f.Bore > diameter {
			o.wrong(v, fmt.Sprintf("bore %s is wider than the run's %s", v.text, plain(quantity.Length, diameter, "mm")), `write "entry: plain" or "entry: flanged" where the pipe itself is the narrowest`)
		}
	case v != nil:
		o.wrong(v, "bore is given for an entry that is not an orifice", `leave it out, or write "entry: orifice"`)
	}
}

// mouth reads the radius with which a bell mouth is rounded, as a share of the diameter.
func (o *object) mouth(f *Fitting, diameter float64) {
	v := o.get("radius")
	switch {
	case v == nil:
		return
	case f.Entry != BellmouthEntry:
		o.wrong(v, "radius is given for an entry that is not a bell mouth", `leave it out, or write "entry: bellmouth"`)
		return
	}
	if f.RadiusRatio = o.diameters("radius", diameter); f.RadiusRatio > 1 {
		o.wrong(v, fmt.Sprintf("radius %s is more than one diameter", v.text), `write the radius with which the edge is rounded, such as "radius: 20 mm"`)
		f.RadiusRatio = 0
	}
}

// elbowMakes are the words for the makes of an elbow, in their order.
var elbowMakes = []string{"smooth", "gored", "mitred", "hose"}

// radius returns the ratio of centre-line radius to diameter.
func (o *object) radius(diameter float64) float64 {
	w := o.word("radius")
	if w == "" {
		return math.NaN()
	}
	ratio, ok := pure(w)
	if !ok {
		length, err := quantity.Parse(quantity.Length, w)
		if err != nil {
			o.wrong(o.get("radius"), fmt.Sprintf("radius %s is neither a number nor a length", shown(w)), `write "radius: 1.5" for 1.5 diameters, or a length such as "180 mm"`)
			return math.NaN()
		}
		ratio = length / diameter
	}
	if ratio < 0.5 || ratio > 20 { // below 0.5 the inner wall would turn inside out
		o.wrong(o.get("radius"), fmt.Sprintf("radius %s is not between 0.5 and 20 diameters", w), "give that of the centre line")
		return math.NaN()
	}
	return ratio
}

// cone reads the large end and the angle of a contraction or expansion.
func (p *parts) cone(parent *object, key, end string, own float64) (large, angle float64) {
	o := p.reader.object(parent.get(key), parent.where+": "+key, "")
	large = o.quantity(end, ductDiameter, math.NaN())
	angle = o.quantity("angle", coneAngle, math.NaN())
	o.require(end, fmt.Sprintf("the diameter at the large end, such as \"%s: 200 mm\"", end))
	o.require("angle", `the full angle of the cone, such as "angle: 30 deg"; 180 deg is a sudden step`)
	o.close()
	if large <= own {
		o.wrong(o.get(end), fmt.Sprintf("%s %s is not larger than the run's own %s", end, plain(quantity.Length, large, "mm"), plain(quantity.Length, own, "mm")),
			"put the fitting into the run with the small diameter")
	}
	return large, angle
}
