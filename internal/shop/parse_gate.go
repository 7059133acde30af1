package shop

import (
	"fmt"
	"math"
)

// openGate is the loss coefficient of an open slide gate on the run's velocity pressure; common practice, no source.
const openGate = 0.05

// gateLoss reads what stands in the air's way when a gate is open. A stated coefficient says all; the kind, its bore
// and how far it opens say it otherwise.
func (o *object) gateLoss(g *Gate) {
	g.Open = o.number("open_loss", 0, 100, openGate)
	g.Kind = GateKind(max(0, o.oneOf("kind", []string{"full bore", "framed", "butterfly"})))
	g.Bore = o.quantity("bore", ductDiameter, 0)
	g.Opens = o.quantity("opens", gateOpens, 1)
	if g.Kind == Framed {
		o.require("bore", "the free bore of its frame, such as \"bore: 100 mm\"")
	} else if v := o.get("bore"); v != nil {
		o.wrong(v, "bore is given for a gate that has no frame in the way", `leave it out, or write "kind: framed"`)
	}
	if v := o.get("opens"); v != nil && g.Kind == Butterfly {
		o.wrong(v, "opens is given for a butterfly, which turns", "leave it out, or state its loss as open_loss")
	}
	if v := o.get("open_loss"); v != nil {
		for _, key := range []string{"kind", "opens"} {
			if o.has(key) {
				o.wrong(v, fmt.Sprintf("open_loss and %s are both given", key), "keep open_loss where the coefficient is known, and "+key+" where it follows from the make")
				return
			}
		}
		return
	}
	if g.Kind != FullBore || g.Opens < 1 {
		g.Open = math.NaN()
	}
}

// seat reads what passes a shut gate: a flow at 1500 Pa, or a measured {leak, at, exponent}.
func (o *object) seat(g *Gate) {
	v := o.get("seat_leak")
	if v == nil || v.shape != mapping {
		g.SeatLeak = o.quantity("seat_leak", leakFlow, 0)
		return
	}
	s := o.reader.object(v, o.where+" seat_leak", "")
	leak := s.quantity("leak", leakFlow, 0)
	at := s.quantity("at", leakReference, seatReference)
	g.SeatN = s.number("exponent", 0.5, 1, leakExponent)
	s.require("leak", "what passes the shut gate, such as \"leak: 20 m3/h\"")
	s.require("at", "the suction at which it does, such as \"at: 1.2 kPa\"")
	s.close()
	g.SeatLeak = leak * math.Pow(seatReference/at, g.SeatN)
}

// seatReference is the suction (Pa) at which the leak of a shut gate is stated.
const seatReference = 1500.0

// stretch reads how far hose is pulled out: a factor on its friction, or the share of its full length.
func (o *object) stretch(r *Run) {
	r.Stretch = 1
	v := o.get("stretch")
	switch {
	case v == nil:
		return
	case v.shape == scalar && len(v.text) > 0 && v.text[len(v.text)-1] == '%':
		r.Pulled = o.quantity("stretch", hosePulled, 1)
	default:
		r.Stretch = o.number("stretch", 1, 20, 1)
	}
	if (r.Stretch > 1 || r.Pulled > 0) && !r.Flexible {
		o.wrong(v, "stretch is given for a run that is not hose", "leave it out, or name a hose as material")
	}
}
