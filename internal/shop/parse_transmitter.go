package shop

import (
	"fmt"
	"math"

	"ductward/internal/quantity"
)

// signals are the words for what a transmitter sends, in the order of the Signal constants.
var signals = []string{Current: "4-20 mA", Volts10: "0-10 V", Volts5: "0-5 V"}

// transmitter reads how a transmitter is wired to a converter. What it measures at the ends of its signal is read when it
// is known what that is; see ends.
func (o *object) transmitter(s *Source) {
	s.Input = o.count("input", 0, 3, 0)
	o.require("input", "the converter's input, such as \"input: 0\"")
	if i := o.oneOf("signal", signals); i >= 0 {
		s.Signal = Signal(i)
	}
	o.require("signal", "one of "+quoted(signals))
	s.Burden = o.quantity("burden", burden, math.NaN())
	s.Divider = o.number("divider", 1, 20, 1)
	switch {
	case s.Signal == Current:
		o.require("burden", "the resistor that the current flows through, such as \"burden: 150 ohm\"")
		o.only("divider", "a current has no divider")
	default:
		o.only("burden", "a voltage flows through no burden")
	}
	s.OnAbove = o.quantity("on_above", signalShare, math.NaN())
	o.get("low")
	o.get("high")
}

// only reports a key that does not belong to the signal.
func (o *object) only(key, why string) {
	if v := o.get(key); v != nil {
		o.wrong(v, key+" is given, but "+why, "leave it out")
	}
}

// ends reads what a transmitter measures at the ends of its signal.
func (o *object) ends(s *Source, kind quantity.Kind) {
	if c := ChipOf(s.Chip); s.Kind != SourceI2C || c == nil || c.Kind != Converter {
		return
	}
	t := o.reader.object(o.get("from"), o.where+" from", "")
	whole := limit{kind: kind, lo: -1e6, hi: 1e6, unit: quantity.Units(kind)[0], tries: quantity.Units(kind)}
	s.Low, s.High = t.quantity("low", whole, math.NaN()), t.quantity("high", whole, math.NaN())
	for _, key := range []string{"low", "high"} {
		t.require(key, fmt.Sprintf("what is measured at the %s end of the signal, such as %q", key, key+": "+kind.Example()))
	}
	if s.Low == s.High {
		t.wrong(t.get("high"), "high is the same as low", "write what is measured at the other end of the signal")
	}
	if v := t.get("on_above"); v != nil {
		t.wrong(v, "on_above is given, but a sensor is not a switch", "leave it out")
	}
}

// clamp reads a converter as a switch: a current clamp on the fan's cable with an output of its own, a relay's voltage, a
// monitor of 4 to 20 mA.
func (o *object) clamp(v *value, s *Source, key, so string) {
	t := o.reader.object(v, o.where+" "+key, "")
	t.require("on_above", "the share of the signal above which "+so+", such as \"on_above: 20 %\"")
	for _, key := range []string{"low", "high"} {
		if v := t.get(key); v != nil {
			t.wrong(v, key+" is given, but a switch has no scale", "leave it out")
		}
	}
	s.Low, s.High = 0, 1
}
