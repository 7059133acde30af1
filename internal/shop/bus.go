package shop

import (
	"fmt"
	"time"
)

// Bus is an I²C bus of the board whose parts get their supply through a pin, so that it can be switched off and on.
type Bus struct {
	Bus         string // as periph names it: "1" or "/dev/i2c-1"
	Power       string // the pin that switches the supply
	ActiveLow   bool   // the supply is on while the pin is low
	OffFor      time.Duration
	AtMostEvery time.Duration // between two times that it is switched off
	Line        int
}

// Defaults of a bus's supply; common practice, no source. Two seconds empty the capacitors of a few small parts.
const (
	offFor      = 2 * time.Second
	atMostEvery = time.Hour
)

// buses reads the buses whose supply can be switched.
func (r *reader) buses(o *object) (out []*Bus) {
	for _, v := range o.entries("buses") {
		b := r.object(v, "bus", "bus")
		s := &Bus{Bus: b.word("bus"), Power: b.pin("power"), ActiveLow: b.oneOf("active", []string{"high", "low"}) == 1, Line: v.line}
		s.OffFor = b.duration("off_for", switchedOff, offFor)
		s.AtMostEvery = b.duration("at_most_every", betweenOffs, atMostEvery)
		b.require("bus", "the number of the I²C bus, such as \"bus: 1\"")
		b.require("power", "the pin that switches the supply of its parts, such as \"power: GPIO26\"")
		b.close()
		if s.Bus != "" && !bus.MatchString(s.Bus) {
			b.wrong(b.get("bus"), fmt.Sprintf("bus %s is not a bus", shown(s.Bus)), `write its number, such as "bus: 1", or "/dev/i2c-1"`)
			continue
		}
		if s.Bus != "" && s.Power != "" {
			out = append(out, s)
		}
	}
	return out
}

// supplies checks the buses whose supply can be switched against what is on them.
func (w *wires) supplies(s *Shop) {
	for _, b := range s.Buses {
		who := "bus " + sameBus(b.Bus)
		line := &Source{Line: b.Line}
		w.take(who, line, "supply of bus "+sameBus(b.Bus), "write each bus once")
		w.take(who, line, "pin "+b.Power, "give the supply a pin of its own")
		if !w.onBus[sameBus(b.Bus)] {
			w.warn(b.Line, who+": nothing is on it", "leave it out, or correct its number")
		}
	}
}
