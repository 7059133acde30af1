package shop

import (
	"fmt"
	"math"
)

// running reads the speed at which the fan runs, where that is not the curve's: a speed, or a drive's frequency over
// that at which the motor turns as on its plate.
func (p *parts) running(o *object, f *Fan) {
	f.Running = 1
	run, drive := o.get("running"), o.get("drive")
	switch {
	case run != nil && drive != nil:
		o.wrong(drive, "running and drive are both given", "keep one of them")
	case run != nil && math.IsNaN(f.Speed):
		if !o.has("speed") {
			o.wrong(run, "running is given without the speed at which the curve holds", `write "speed: 2900 rpm" from the fan's data sheet, or "drive: {at: 45 Hz, plate: 50 Hz}"`)
		}
	case run != nil:
		f.Running = o.quantity("running", fanSpeed, f.Speed) / f.Speed
		o.ratio(run, f)
	case drive != nil:
		d := o.reader.object(drive, o.where+" drive", "")
		at := d.quantity("at", driveSpeed, 1)
		plate := d.quantity("plate", driveSpeed, 50)
		d.require("at", `the frequency that the drive is set to, such as "at: 45 Hz"`)
		d.require("plate", `the frequency on the motor's plate, at which the curve holds: "plate: 50 Hz"`)
		d.close()
		if d.has("at") && d.has("plate") {
			f.Running = at / plate
			o.ratio(drive, f)
		}
	}
}

// ratio refuses a speed at which no fan of this curve runs.
func (o *object) ratio(v *value, f *Fan) {
	if f.Running < 0.1 || f.Running > 1.5 {
		o.wrong(v, fmt.Sprintf("the fan would run at %.3g times the speed of its curve", f.Running), "check both speeds; from 0.1 to 1.5 times is understood")
		f.Running = 1
	}
}

// powers reports a fan whose power is told twice.
func (o *object) powers(v *value, f *Fan) {
	power, efficiency := false, f.Efficiency > 0
	for _, q := range f.Points {
		power = power || q.Power > 0
		efficiency = efficiency || q.Efficiency > 0
	}
	if power && efficiency {
		o.wrong(v, "both power and efficiency are given", "keep the one that the data sheet has")
	}
}

// fanInlet reads what spoils the flow into the fan: an elbow with the straight duct behind it, or a coefficient.
func (p *parts) fanInlet(fan *object) *FanInlet {
	v := fan.get("inlet")
	if v == nil {
		return nil
	}
	o := p.reader.object(v, fan.where+" inlet", "")
	in := &FanInlet{Coefficient: math.NaN(), RadiusRatio: math.NaN(), Line: v.line}
	in.Diameter = o.quantity("diameter", ductDiameter, math.NaN())
	o.require("diameter", `the diameter where the air enters the fan, such as "diameter: 250 mm"`)
	make, loss := o.get("elbow"), o.get("loss")
	switch {
	case make != nil && loss != nil:
		o.wrong(loss, "elbow and loss are both given", "keep loss where the coefficient is known")
	case loss != nil:
		in.Coefficient = o.number("loss", 0, 10, 0)
	case make != nil:
		p.inletElbow(o, in)
	case !o.void:
		o.wrong(v, "it does not say what stands before the fan", `write "elbow: smooth", "gored", "mitred" or "square", or "loss: COEFFICIENT"`)
	}
	o.close()
	return in
}

// inletElbow reads the elbow before a fan and the straight duct between them.
func (p *parts) inletElbow(o *object, in *FanInlet) {
	kind := o.oneOf("elbow", []string{"smooth", "gored", "mitred", "square"})
	in.Square = kind == 3
	if kind == 1 || kind == 2 {
		in.Make = ElbowMake(kind)
	}
	in.Straight = o.diameters("straight", in.Diameter)
	o.require("straight", `the straight duct between elbow and fan, as "straight: 500 mm" or in diameters, 0 for none`)
	switch {
	case in.Make == MitredElbow:
		if w := o.get("radius"); w != nil {
			o.wrong(w, "radius is given for a mitred elbow, which has none", "leave it out")
		}
	case kind >= 0:
		in.RadiusRatio = o.radius(in.Diameter)
		o.require("radius", `the centre-line radius, as "radius: 1" diameters or "radius: 250 mm"`)
	}
	if in.Make == GoredElbow {
		in.Pieces = o.count("pieces", 2, 20, 0)
		o.require("pieces", "how many pieces it is made of, such as \"pieces: 4\"")
	} else if w := o.get("pieces"); w != nil {
		o.wrong(w, "pieces is given for an elbow that is not gored", `leave it out, or write "elbow: gored"`)
	}
}
