package hardware

import (
	"errors"
	"fmt"
	"log/slog"
	"time"

	"periph.io/x/conn/v3/gpio"

	"ductward/internal/clock"
	"ductward/internal/shop"
)

// Outputs is implemented by Buses whose pins can be driven as well, which is what switching a supply takes.
type Outputs interface {
	Output(name string) (gpio.PinOut, error)
}

const (
	// deadFor is how long a fault must stand before the supply is switched for it: a plug that is being pushed in, and the
	// attempts of the poller itself, come first.
	deadFor = 20 * time.Second
	// wakeUp is how long the parts are left alone after their supply has come: an SDP8xx takes 25 ms to its first answer and
	// an ABP2 3 ms (from memory of their datasheets), and a regulator some more.
	wakeUp = 100 * time.Millisecond
)

// supply switches the supply of the parts on one bus, where it is wired through a pin. A part that holds the bus down, has
// latched up, or answers nobody, comes back by that and by nothing else. It belongs to the goroutine of the bus, so that
// nothing is asked meanwhile; its neighbours on the bus have a gap as long as that.
type supply struct {
	of    *shop.Bus
	buses Buses
	clock clock.Clock
	log   *slog.Logger
	parts []*sensor // on the bus

	pin    gpio.PinOut // nil until it has been switched on
	cycles int         // how often it was switched off and on
	last   time.Duration
}

// supplies makes those of a shop, by bus.
func (b *builder) supplies(s *shop.Shop) map[string]*supply {
	out := map[string]*supply{}
	for _, x := range s.Buses {
		out[busKey(x.Bus)] = &supply{of: x, buses: b.buses, clock: b.clock, log: b.log}
	}
	return out
}

// feed notes that a part hangs on the supply of its bus, if that has one.
func (b *builder) feed(bus string, p *sensor) {
	if s := b.powered[busKey(bus)]; s != nil {
		p.supply, s.parts = s, append(s.parts, p)
	}
}

// SwitchOn switches on the supply of every bus of a shop that has one behind a pin, for whoever asks the parts without
// opening the shop's sources. It names each that it could not switch, and then the others are on all the same.
func SwitchOn(s *shop.Shop, buses Buses, c clock.Clock) error {
	var errs []error
	for _, x := range s.Buses {
		one := supply{of: x, buses: buses, clock: c}
		if err := one.on(); err != nil {
			errs = append(errs, fmt.Errorf("supply of i2c bus %s: %w", x.Bus, err))
		}
	}
	return errors.Join(errs...)
}

// on switches the supply on, unless it is.
func (s *supply) on() error {
	if s == nil || s.pin != nil {
		return nil
	}
	outputs, ok := s.buses.(Outputs)
	if !ok {
		return fmt.Errorf("pin %q: these pins cannot be driven", s.of.Power)
	}
	pin, err := outputs.Output(s.of.Power)
	if err != nil {
		return err
	}
	if err := pin.Out(s.level(true)); err != nil {
		return fmt.Errorf("drive pin %q: %w", s.of.Power, err)
	}
	s.pin = pin
	s.clock.Sleep(wakeUp)
	return nil
}

func (s *supply) level(on bool) gpio.Level { return gpio.Level(on != s.of.ActiveLow) }

// revive switches the supply off and on where a fault asks for it that has stood for a while, and tells so.
func (s *supply) revive(now time.Duration) {
	if s == nil || s.pin == nil || !s.asked(now) {
		return
	}
	err := s.pin.Out(s.level(false))
	s.clock.Sleep(s.of.OffFor)
	if e := s.pin.Out(s.level(true)); e != nil {
		err, s.pin = e, nil // it may be off: the next attempt of a part tries again
	}
	s.clock.Sleep(wakeUp)
	s.last = s.clock.Mono()
	s.cycles++
	s.log.Warn("the supply of a bus was switched off and on", "bus", s.of.Bus, "pin", s.of.Power, "times", s.cycles, "err", err)
	for _, p := range s.parts {
		p.ready, p.retryAt = false, s.last
		p.cycled()
	}
}

// asked tells whether a fault asks for it: a part that is locked up whatever the others do, or all of them silent. A
// single one that is silent among others is more likely unplugged, and would cost its neighbours a gap for nothing.
func (s *supply) asked(now time.Duration) bool {
	if s.cycles > 0 && now-s.last < s.of.AtMostEvery {
		return false
	}
	silent := 0
	for _, p := range s.parts {
		f := p.fault()
		if f == nil || now-f.Since < deadFor {
			continue
		}
		switch f.Code {
		case BusLocked, LatchedUp, Busy, ChipError, Stuck:
			return true
		case NotAnswering:
			silent++
		}
	}
	return silent == len(s.parts)
}
