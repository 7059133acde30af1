package steady

import (
	"math"
	"sort"

	"ductward/internal/reading"
)

// turn moves a switch. If it moved, the stretch ends.
func (f *Folder) turn(out []Run, p *position, r *reading.Reading) []Run {
	next := position{}
	if !math.IsNaN(r.Value) {
		next = position{known: true, value: int(math.Round(r.Value))}
	}
	if next == *p {
		return out
	}
	out = f.end(out, r.Mono)
	*p = next
	f.begin(r.Mono)
	return out
}

// The suction, or filter drop, that says that the fan runs, and the one below which it surely stands.
const (
	fanOnPa  = 60.0
	fanOffPa = 25.0
)

// inferFan tells the fan from a pressure where no switch does.
func (f *Folder) inferFan(out []Run, r *reading.Reading) []Run {
	z := 0.0
	if k, ok := f.zeros[r.Channel]; ok {
		z = k.Value
	}
	size := math.Abs(r.Value - z)
	value := f.fan.value
	switch {
	case size > fanOnPa:
		value = 1
	case size < fanOffPa:
		value = 0
	case !f.fan.known:
		return out
	}
	s := *r
	s.Value = float64(value)
	return f.turn(out, &f.fan, &s)
}

// kind tells what the stretch is good for.
func (f *Folder) kind() Kind {
	if f.fan.value == 0 {
		return Zero
	}
	open := len(f.gates) == 0
	for _, g := range f.gates {
		p := f.gate["gate/"+g]
		if !p.known {
			return Unknown
		}
		open = open || p.value == 1
	}
	for _, s := range f.selectors {
		if !f.port["selector/"+s].known {
			return Unknown
		}
	}
	for _, w := range f.ungated {
		open = open || w.open(f.port)
	}
	if !open {
		return Closed
	}
	return Running
}

// positions returns the open gates and the ports of all selectors.
func (f *Folder) positions() (open []string, ports []Port) {
	for _, g := range f.gates {
		if p := f.gate["gate/"+g]; p.known && p.value == 1 {
			open = append(open, g)
		}
	}
	for _, s := range f.selectors {
		ports = append(ports, Port{Selector: s, Port: f.port["selector/"+s].value})
	}
	return open, ports
}

// unknown lists the gates and selectors whose position is not known.
func (f *Folder) unknown() []string {
	var out []string
	for _, g := range f.gates {
		if !f.gate["gate/"+g].known {
			out = append(out, g)
		}
	}
	for _, s := range f.selectors {
		if !f.port["selector/"+s].known {
			out = append(out, s)
		}
	}
	sort.Strings(out)
	return out
}

// FanOn tells whether the fan runs, and whether that is known.
func (f *Folder) FanOn() (on, known bool) { return f.fan.value == 1, f.fan.known }

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}
