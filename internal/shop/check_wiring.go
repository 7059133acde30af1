package shop

import (
	"fmt"
	"math"
)

// wiring checks what the sources of the whole file share: buses, pins, topics and the broker.
func (r *reader) wiring(s *Shop) {
	w := &wires{reader: r, used: map[string]string{}, direct: map[string]string{}, muxes: map[string]string{}, broker: s.Outbound.MQTT != nil}
	for _, c := range s.Collectors {
		for _, n := range c.Sensors {
			w.connect(fmt.Sprintf("sensor %q", n.Name), &n.From)
		}
		for _, g := range c.Gates {
			w.connect(fmt.Sprintf("gate %q", g.Name), g.Position)
		}
		for _, n := range c.Selectors {
			w.connect(fmt.Sprintf("selector %q", n.Name), n.Position)
		}
		w.connect(fmt.Sprintf("collector %q fan_running", c.Name), c.FanSwitch)
	}
	w.crossed()
}

type wires struct {
	*reader
	direct map[string]string // bus and address of what is on a bus itself → by whom
	muxes  map[string]string // bus and address of a multiplexer → who is behind it
	behind []behind
	used   map[string]string // what is connected → by whom
	broker bool
	told   bool // that there is no broker
}

// connect takes what a source needs for itself.
func (w *wires) connect(who string, s *Source) {
	if s == nil {
		return
	}
	switch s.Kind {
	case SourceI2C:
		if s.Bus != "" && s.Address != 0 {
			w.chip(who, s)
		}
	case SourceGPIO:
		if s.Pin != "" {
			w.take(who, s, "pin "+s.Pin, "put each switch on its own pin")
		}
	case SourceMQTT:
		if s.Topic != "" {
			w.take(who, s, fmt.Sprintf("topic %q field %q", s.Topic, s.Field), "give each value its own topic, or name its field in the JSON object")
		}
		if !w.broker && !w.told {
			w.told = true
			w.problem(s.Line, 1, who+": it comes over MQTT, but the file names no broker", `write "outbound: {mqtt: {broker: tcp://HOST:1883}}"`)
		}
	}
}

// behind is a chip behind a multiplexer.
type behind struct {
	who    string
	source *Source
}

func placeOnBus(bus string, address uint16) string {
	return fmt.Sprintf("bus %s address 0x%02x", sameBus(bus), address)
}

// chip takes a chip's place.
func (w *wires) chip(who string, s *Source) {
	place := placeOnBus(s.Bus, s.Address)
	if s.Mux == 0 {
		w.direct[place] = who
		w.take(who, s, place, "give one of the parts another address or bus")
		return
	}
	w.muxes[placeOnBus(s.Bus, s.Mux)] = who
	w.behind = append(w.behind, behind{who, s})
	w.take(who, s, fmt.Sprintf("%s behind mux 0x%02x port %d", place, s.Mux, s.Port), "give one of the parts another port")
}

// crossed reports what multiplexers cannot keep apart: a chip behind one answers together with a chip of its address on
// the bus itself, and the multiplexer has an address too.
func (w *wires) crossed() {
	for _, b := range w.behind {
		s := b.source
		if other, ok := w.direct[placeOnBus(s.Bus, s.Address)]; ok {
			w.problem(s.Line, 1, fmt.Sprintf("%s: it answers together with the %s, which has its address on the bus itself", b.who, other),
				"put that one behind the multiplexer as well, or on another bus")
		}
		if other, ok := w.direct[placeOnBus(s.Bus, s.Mux)]; ok {
			w.problem(s.Line, 1, fmt.Sprintf("%s: its multiplexer has the address of the %s", b.who, other), "give one of them another address")
		}
	}
}

func (w *wires) take(who string, s *Source, what, want string) {
	if first, ok := w.used[what]; ok {
		w.problem(s.Line, 1, fmt.Sprintf("%s: %s is already that of the %s", who, what, first), want)
		return
	}
	w.used[what] = who
}

// saturates warns where a part cannot read what the fan can make at shut-off.
func (p *parts) saturates() {
	peak := 0.0
	for _, q := range p.Fan.Points {
		peak = math.Max(peak, q.Pressure)
	}
	peak *= p.Fan.RunningRatio() * p.Fan.RunningRatio() // the fan laws
	for _, s := range p.Sensors {
		if s.Measures == StaticPressure && s.From.Kind == SourceI2C && s.From.Span > 0 && s.From.Span < peak {
			p.warn(s.From.Line, fmt.Sprintf("sensor %q: its span of %s is less than the %s that the fan makes at shut-off", s.Name, pressureText(s.From.Span), pressureText(peak)),
				"take a part with a larger span, or expect no reading while few gates are open")
		}
	}
}
