package shop

import (
	"fmt"
	"math"
)

// wiring checks what the sources of the whole file share: buses, pins, topics and the broker.
func (r *reader) wiring(s *Shop) {
	w := &wires{reader: r, used: map[string]string{}, direct: map[string]string{}, shared: map[string]string{}, lines: map[string]string{}, onBus: map[string]bool{}, broker: s.Outbound.MQTT != nil}
	for _, c := range s.Collectors {
		for _, n := range c.Sensors {
			w.connectAs(fmt.Sprintf("sensor %q", n.Name), &n.From, n.Measures.String())
		}
		for _, g := range c.Gates {
			w.connect(fmt.Sprintf("gate %q", g.Name), g.Position)
		}
		for _, n := range c.Selectors {
			w.connect(fmt.Sprintf("selector %q", n.Name), n.Position)
		}
		for _, n := range c.Contacts {
			w.connect(fmt.Sprintf("contact %q", n.Name), n.From)
		}
		w.connect(fmt.Sprintf("collector %q fan_running", c.Name), c.FanSwitch)
	}
	w.crossed()
	w.supplies(s)
}

type wires struct {
	*reader
	direct map[string]string // bus and address of what is on a bus itself → by whom
	shared map[string]string // place of a chip that measures several things → its name
	behind []behind
	lines  map[string]string // serial lines → how they are set
	used   map[string]string // what is connected → by whom
	onBus  map[string]bool   // I²C buses with something on them
	broker bool
	told   bool // that there is no broker
}

// connect takes what a source needs for itself.
func (w *wires) connect(who string, s *Source) { w.connectAs(who, s, "") }

// connectAs takes what a source needs for itself. A chip that measures several things is shared by what is measured.
func (w *wires) connectAs(who string, s *Source, measured string) {
	if s == nil {
		return
	}
	switch s.Kind {
	case SourceI2C:
		w.onBus[sameBus(s.Bus)] = true
		if s.Bus != "" && s.Address != 0 {
			w.chip(who, s, measured)
		}
	case SourceGPIO:
		if s.Pin != "" {
			w.take(who, s, "pin "+s.Pin, "put each switch on its own pin")
		}
		for _, pin := range append([]string{s.ShutPin}, s.Pins...) {
			if pin != "" {
				w.take(who, s, "pin "+pin, "put each switch on its own pin")
			}
		}
	case SourceModbus:
		if s.URL != "" {
			w.take(who, s, fmt.Sprintf("%s station %d %s %d", s.URL, s.Station, tables[s.Table], s.Register), "read each value once")
			w.line(who, s)
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
func (w *wires) chip(who string, s *Source, measured string) {
	place, want := placeOnBus(s.Bus, s.Address), "give one of the parts another address or bus"
	if s.Mux == 0 {
		w.direct[place] = who
	} else {
		w.behind = append(w.behind, behind{who, s})
		place, want = fmt.Sprintf("%s behind mux 0x%02x port %d", place, s.Mux, s.Port), "give one of the parts another port"
	}
	c := ChipOf(s.Chip)
	other, shared := w.shared[place]
	single := c == nil || c.Kind == PressureChip
	if shared && (single || other != c.Name) {
		w.problem(s.Line, 1, fmt.Sprintf("%s: %s is already that of the chip %s", who, place, other), want)
		return
	}
	if first, ok := w.used[place]; ok && !single {
		w.problem(s.Line, 1, fmt.Sprintf("%s: %s is already that of the %s", who, place, first), want)
		return
	}
	if single {
		w.take(who, s, place, want)
		return
	}
	w.shared[place] = c.Name
	if c.Kind == Converter {
		w.take(who, s, fmt.Sprintf("%s input %d", place, s.Input), "put each transmitter on its own input")
	} else {
		w.take(who, s, place+" "+measured, "measure it once")
	}
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

// line checks that a serial line is set in one way.
func (w *wires) line(who string, s *Source) {
	set := fmt.Sprintf("%d baud, parity %s", s.Baud, parities[s.Parity])
	first, ok := w.lines[s.URL]
	if !ok {
		w.lines[s.URL] = set
		return
	}
	if first != set {
		w.problem(s.Line, 1, fmt.Sprintf("%s: %s is set to %s here and to %s before", who, s.URL, set, first), "write the same baud and parity for every station of a line")
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
