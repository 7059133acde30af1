package live

import (
	"fmt"
	"math"

	"ductward/internal/shop"
)

// Fan says whether a collector's fan runs.
type Fan int

// How a fan can stand.
const (
	Unknown Fan = iota
	Standing
	Running
)

// String says it in a word.
func (f Fan) String() string { return [...]string{"not known", "standing", "running"}[f] }

// State is how a row does.
type State string

// The states. They are shown and published: added to, never changed.
const (
	Good    State = "good"
	Look    State = "look"   // it has a value, and a person should look why it is so
	Faulty  State = "fault"  // it has no value
	Waiting State = "wait"   // nothing has come yet
	ByHand  State = "hand"   // a person says it; there is nothing to measure
	Absent  State = "absent" // the shop file names no source
)

// Health is what is to be said about a row.
type Health struct {
	State State
	Word  string // a word or two, such as "wrong sign"
	Text  string // what was seen and what to do; "" where there is nothing to say
}

// What a pressure must show to be believed. Common practice, no source.
const (
	draught   = 2.0  // Pa that a warm stack, the wind or another collector leaves while the fan stands
	turbulent = 50.0 // Pa from which on moving air must be heard in a pressure
	quiet     = 0.1  // Pa of noise below which it is not
	enough    = 10   // samples before anything is said about a noise or a sign
)

// judge tells how a row does.
func (r *row) judge(now *Row, fan Fan) Health {
	switch {
	case r.byHand:
		return Health{State: ByHand, Word: "by hand", Text: ""}
	case r.source == nil:
		return Health{State: Absent, Word: "no source"}
	case r.fault != nil:
		return Health{Faulty, string(r.fault.Code), r.fault.Error()}
	case math.IsNaN(r.value) && r.sensor == nil:
		return Health{Look, "not known", "it does not say where it stands: neither open nor shut, or nothing has come"}
	case math.IsNaN(r.value):
		return Health{State: Waiting, Word: "waiting"}
	case r.nearEnd:
		return Health{Look, "near its end", fmt.Sprintf("%.0f Pa is close to the end of the part's range: if that is the pressure, fit a part of a wider range", r.value)}
	case r.sensor == nil || !isDifference(r.sensor.Measures) || now.Samples < enough:
		return Health{State: Good, Word: "good"}
	}
	return r.judgePressure(now, fan)
}

// judgePressure holds a difference of pressure against what the fan does.
func (r *row) judgePressure(now *Row, fan Fan) Health {
	bound := zeroBound(r.source)
	if !math.IsNaN(now.Zero) && math.Abs(now.Zero) > bound {
		return Health{Look, "zero off", fmt.Sprintf("it reads %.1f Pa while the fan stands, where %.1f Pa at most is a sound zero: take its tubes off to tell the part from a draught or another fan on the same ducts", now.Zero, bound)}
	}
	if fan != Running {
		return Health{State: Good, Word: "good"}
	}
	size := math.Abs(now.Mean)
	wrong := now.Mean > 0 == (r.sensor.Measures == shop.StaticPressure)
	switch {
	case size <= bound && r.sensor.Measures != shop.VelocityPressure:
		return Health{Look, "no pressure", fmt.Sprintf("the fan runs, and it reads %.1f Pa, no more than its zero may be off: look for a tube that is off, kinked or plugged", now.Mean)}
	case wrong && size > bound+3*now.Noise:
		return Health{Look, "wrong sign", fmt.Sprintf("it reads %.0f Pa while the fan runs: exchange its two tubes, or write \"swapped: %s\" in the shop file", now.Mean, yesNo(!r.source.Swapped))}
	case size > turbulent && now.Noise < quiet:
		return Health{Look, "too quiet", fmt.Sprintf("it moves by %.2f Pa from sample to sample, where moving air makes more: look for a plugged tap or a tube with water in it", now.Noise)}
	}
	return Health{State: Good, Word: "good"}
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// zeroBound is how far from nothing, in Pa, a sound part may read while the fan stands: what its datasheet gives its
// zero, and the draught.
func zeroBound(f *shop.Source) float64 {
	switch c := shop.ChipOf(f.Chip); {
	case f.Kind != shop.SourceI2C || c == nil:
	case c.Kind == shop.Converter:
		return draught + c.Zero*math.Abs(f.High-f.Low)
	default:
		return draught + c.Zero*f.Span
	}
	return draught + 10 // a transmitter of which nothing is known: 0.5 % of 2 kPa, as many are sold
}
