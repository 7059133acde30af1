package hardware

import (
	"context"
	"errors"
	"fmt"
	"log/slog"

	"ductward/hardware/modbusin"
	"ductward/hardware/mqttin"
	"ductward/hardware/mux"
	"ductward/internal/air"
	"ductward/internal/clock"
	"ductward/internal/reading"
	"ductward/internal/shop"
)

// Set is every source of a shop.
type Set struct {
	clock   clock.Clock
	log     *slog.Logger
	pollers []Poller
	groups  []Group
	healths []*health
	ambient *ambient
	inbox   *mqttin.Inbox
	modbus  []modbusin.Reader
	sub     *mqttin.Subscriber // nil: nothing is published for this shop, or the buses stand in for the broker
}

// builder gathers what a Set is made of.
type builder struct {
	*Set
	buses   Buses
	inputs  []mqttin.Input
	trunks  map[string]*mux.Trunk // by bus
	powered map[string]*supply    // by bus
	lines   map[string]modbusin.Reader
	rooms   map[roomPlace]*roomPart
	fed     Payloads // nil: topics come from a broker
}

// Open makes a poller for every sensor, gate, selector and fan switch whose source is a chip, a pin or a fixed
// position, and an inbox for those that are published. It fails where the shop asks for what cannot be, and names all of
// it. What is merely not there now (a sensor that is unplugged, a bus, a broker) is a fault of its channel and no
// error, so that a dead sensor stops nobody. It asks nothing of the wires yet.
func Open(s *shop.Shop, buses Buses, c clock.Clock, log *slog.Logger) (*Set, error) {
	if buses == nil {
		buses = noBuses{}
	}
	b := &builder{Set: &Set{clock: c, log: log, ambient: &ambient{}}, buses: buses, trunks: map[string]*mux.Trunk{}, lines: map[string]modbusin.Reader{}, rooms: map[roomPlace]*roomPart{}}
	b.fed, _ = buses.(Payloads)
	b.powered = b.supplies(s)
	b.ambient.set(air.PressureAt(s.Site.Altitude))
	var errs []error
	for _, col := range s.Collectors {
		errs = append(errs, b.collector(col)...)
	}
	if err := b.listen(s); err != nil {
		errs = append(errs, err)
	}
	if len(errs) > 0 {
		return nil, fmt.Errorf("open the sources: %w", errors.Join(errs...))
	}
	return b.Set, nil
}

func (b *builder) health(channel, where string) health {
	return health{channel: channel, where: where, log: b.log}
}

// add appends a poller to its group; groups are in the order in which the shop file first names them.
func (b *builder) add(bus string, p Poller, h *health) {
	b.pollers = append(b.pollers, p)
	if h != nil {
		b.healths = append(b.healths, h)
	}
	for i := range b.groups {
		if b.groups[i].Bus == bus {
			b.groups[i].Pollers = append(b.groups[i].Pollers, p)
			return
		}
	}
	b.groups = append(b.groups, Group{Bus: bus, Pollers: []Poller{p}})
}

// Pollers lists all pollers in the order of the shop file.
func (s *Set) Pollers() []Poller { return s.pollers }

// Groups lists the pollers by the wires that they share. With one goroutine a group, a bus that is locked up delays no
// other.
func (s *Set) Groups() []Group { return s.groups }

// Pushed is where published readings arrive, with Boot and Seq left to the reader. Where nobody reads, the oldest are
// dropped. It is never closed.
func (s *Set) Pushed() <-chan reading.Reading { return s.inbox.Readings() }

// SetAmbient states the measured absolute pressure of the room in Pa, for the parts whose reading depends on it. Until
// then it is that of the standard atmosphere at the shop's altitude.
func (s *Set) SetAmbient(pa float64) { s.ambient.set(pa) }

// Faults lists the channels that have no value now: what is polled in the order of the shop file, then what is
// published. It may be called from any goroutine.
func (s *Set) Faults() []*Fault {
	var out []*Fault
	for _, h := range s.healths {
		if f := h.fault(); f != nil {
			out = append(out, f)
		}
	}
	if s.sub == nil {
		return out
	}
	for _, t := range s.inbox.Troubles(s.clock.Mono()) {
		code := troubleCode(t.Err)
		out = append(out, &Fault{Code: code, Channel: t.Channel, Where: topicPlace(t.Topic), Remedy: remedies[code], Since: t.Since, Err: t.Err})
	}
	return out
}

// Run listens to the broker until the context ends, and returns its error. Where nothing is published it only waits.
func (s *Set) Run(ctx context.Context) error {
	if s.sub == nil {
		<-ctx.Done()
		return ctx.Err()
	}
	return s.sub.Run(ctx)
}

// Close leaves the chips idle and closes the Modbus lines. The pollers must not be used any more, and Run must have ended. The buses stay open:
// they are their owner's.
func (s *Set) Close() error {
	for _, p := range s.pollers {
		if c, ok := p.(*sensor); ok && c.ready {
			c.chip.halt()
			c.ready = false
		}
	}
	var errs []error
	for _, l := range s.modbus {
		errs = append(errs, l.Close())
	}
	return errors.Join(errs...)
}
