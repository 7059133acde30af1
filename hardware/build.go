package hardware

import (
	"fmt"
	"strings"
	"time"

	"ductward/hardware/switchpin"
	"ductward/internal/shop"
)

// sensor adds the poller of one sensor.
func (b *builder) sensor(c *shop.Collector, s *shop.Sensor) error {
	channel := c.Name + "/" + s.Name
	switch s.From.Kind {
	case shop.SourceI2C:
		return b.chip(channel, s)
	case shop.SourceMQTT:
		return b.topic(channel, &s.From, wantSensor(s.Measures), intervalOf(s))
	case shop.SourceModbus:
		return b.register(channel, s)
	case shop.SourceByHand:
		return nil
	}
	return fmt.Errorf("sensor %q: its source has no number to read; from: takes a chip or a topic", channel)
}

func (b *builder) chip(channel string, s *shop.Sensor) error {
	if c := shop.ChipOf(s.From.Chip); (c == nil || c.Kind == shop.PressureChip) && !isDifference(s.Measures) {
		return fmt.Errorf("sensor %q: chip %q measures a difference of pressure; measures: must be one of those, or the value must come from a topic", channel, s.From.Chip)
	}
	c, quiet, err := b.newChip(&s.From, s.Measures)
	if err != nil {
		return fmt.Errorf("sensor %q: %w", channel, err)
	}
	way := b.way(&s.From)
	p := &sensor{
		health:   b.health(channel, way.place(s.From.Address)),
		interval: intervalOf(s),
		way:      way,
		clock:    b.clock,
		chip:     c,
		sign:     1,
		stuck:    stuckWatch{quiet: quiet},
	}
	if s.From.Swapped {
		p.sign = -1
	}
	b.feed(s.From.Bus, p)
	b.add("i2c "+busKey(s.From.Bus), p, &p.health)
	return nil
}

func intervalOf(s *shop.Sensor) time.Duration {
	if s.Interval > 0 {
		return s.Interval
	}
	return defaultInterval
}

func isDifference(q shop.Quantity) bool {
	switch q {
	case shop.FilterDrop, shop.StaticPressure, shop.VelocityPressure, shop.SeparatorDrop:
		return true
	}
	return false
}

// position adds the source of a gate, a fan switch or a contact: 1 open, running or closed, 0 shut, at rest or open.
func (b *builder) position(channel string, f *shop.Source) error {
	switch f.Kind {
	case shop.SourceGPIO:
		if f.ShutPin != "" {
			b.contacts(channel, "pins "+f.Pin+" and "+f.ShutPin, []string{f.Pin, f.ShutPin}, f, endPlaces())
			return nil
		}
		p := &pinSwitch{
			health:    b.health(channel, "pin "+f.Pin),
			pinName:   f.Pin,
			activeLow: f.ActiveLow,
			debounce:  f.Debounce,
			buses:     b.buses,
			clock:     b.clock,
		}
		if p.debounce <= 0 {
			p.debounce = defaultDebounce
		}
		b.add("gpio", p, &p.health)
	case shop.SourceMQTT:
		return b.topic(channel, f, wantSwitch(), switchInterval)
	case shop.SourceModbus:
		return b.bit(channel, f)
	case shop.SourceFixed:
		b.add("fixed", &fixed{channel, numeral(f.Fixed)}, nil)
	case shop.SourceI2C:
		c := shop.ChipOf(f.Chip)
		if c == nil || c.Kind != shop.Converter {
			return fmt.Errorf("%s: a chip tells no position; from: takes a pin, a topic, a fixed position or by hand", channel)
		}
		b.clamp(channel, f)
	}
	return nil
}

// contacts adds a gate or a selector that tells where it stands by several contacts.
func (b *builder) contacts(channel, where string, pins []string, f *shop.Source, at places) {
	p := &contacts{
		health:    b.health(channel, where),
		pinNames:  pins,
		activeLow: f.ActiveLow,
		debounce:  f.Debounce,
		places:    at,
		buses:     b.buses,
		clock:     b.clock,
		at:        make([]*switchpin.Switch, len(pins)),
	}
	if p.debounce <= 0 {
		p.debounce = defaultDebounce
	}
	b.add("gpio", p, &p.health)
}

// selector adds the source of a selector. One pin or a fixed position cannot tell ports apart.
func (b *builder) selector(s *shop.Selector) error {
	channel := "selector/" + s.Name
	switch {
	case s.Position == nil || s.Position.Kind == shop.SourceByHand:
		return nil
	case s.Position.Kind == shop.SourceMQTT:
		return b.topic(channel, s.Position, wantPort(s.Ports), switchInterval)
	case s.Position.Kind == shop.SourceGPIO && len(s.Position.Pins) > 0:
		pins := s.Position.Pins
		b.contacts(channel, "pins "+strings.Join(pins, ", "), pins, s.Position, portPlaces(len(pins), s.Hose))
		return nil
	}
	return fmt.Errorf("%s: its position must come from a pin a port, from a topic that gives the port's number or name, or by hand", channel)
}

// collector adds everything of one collector, in the order of the shop file, and returns all mistakes.
func (b *builder) collector(c *shop.Collector) (errs []error) {
	note := func(err error) {
		if err != nil {
			errs = append(errs, err)
		}
	}
	for _, s := range c.Sensors {
		note(b.sensor(c, s))
	}
	if c.FanSwitch != nil {
		note(b.position(c.Name+"/fan", c.FanSwitch))
	}
	for _, g := range c.Gates {
		if g.Position != nil {
			note(b.position("gate/"+g.Name, g.Position))
		}
	}
	for _, s := range c.Selectors {
		note(b.selector(s))
	}
	for _, n := range c.Contacts {
		note(b.position(shop.ContactChannel(n.Name), n.From))
	}
	return errs
}

// defaultStale is how old a published value may be where the shop file does not say.
const defaultStale = 30 * time.Second
