package hardware

import (
	"errors"
	"fmt"
	"time"

	"ductward/hardware/abp2"
	"ductward/hardware/sdp8xx"
	"ductward/internal/shop"
)

// chips are the names that a source may give, in the order in which they are listed to a person.
const chips = `"abp2", "sdp8xx"`

// sensor adds the poller of one sensor.
func (b *builder) sensor(c *shop.Collector, s *shop.Sensor) error {
	channel := c.Name + "/" + s.Name
	switch s.From.Kind {
	case shop.SourceI2C:
		return b.chip(channel, s)
	case shop.SourceMQTT:
		return b.topic(channel, &s.From, wantSensor(s.Measures), intervalOf(s))
	case shop.SourceByHand:
		return nil
	}
	return fmt.Errorf("sensor %q: its source has no number to read; from: takes a chip or a topic", channel)
}

func (b *builder) chip(channel string, s *shop.Sensor) error {
	if !isDifference(s.Measures) {
		return fmt.Errorf("sensor %q: chip %q measures a difference of pressure; measures: must be one of those, or the value must come from a topic", channel, s.From.Chip)
	}
	c, quiet, err := b.newChip(&s.From)
	if err != nil {
		return fmt.Errorf("sensor %q: %w", channel, err)
	}
	p := &sensor{
		health:   b.health(channel, fmt.Sprintf("i2c bus %q address 0x%02X", s.From.Bus, s.From.Address)),
		interval: intervalOf(s),
		busName:  s.From.Bus,
		buses:    b.buses,
		clock:    b.clock,
		chip:     c,
		sign:     1,
		stuck:    stuckWatch{quiet: quiet},
	}
	if s.From.Swapped {
		p.sign = -1
	}
	b.add("i2c "+s.From.Bus, p, &p.health)
	return nil
}

func intervalOf(s *shop.Sensor) time.Duration {
	if s.Interval > 0 {
		return s.Interval
	}
	return defaultInterval
}

// newChip returns the chip and the pressure below which it may sit still; see stuckWatch.
func (b *builder) newChip(f *shop.Source) (chip, float64, error) {
	if f.Address > 0x7F {
		return nil, 0, fmt.Errorf("address 0x%X is no 7-bit address", f.Address)
	}
	switch f.Chip {
	case "abp2":
		if !(f.Span > 0) {
			return nil, 0, errors.New(`an abp2 needs span:, the full scale in its order code, as in "2.5 kPa"`)
		}
		r := abp2.Range{Span: f.Span, OneSided: f.OneSided}
		// Its zero may be off by 1.5 % of the span, so that "still at zero" needs somewhat more than that.
		return &abp2Chip{dev: abp2.Dev{Addr: f.Address, Range: r, Sleep: b.clock.Sleep}}, 0.02 * f.Span, nil
	case "sdp8xx":
		d := sdp8xx.Dev{Addr: f.Address, Span: f.Span, Sleep: b.clock.Sleep}
		return &sdpChip{dev: d, ambient: b.ambient}, 2, nil // Pa: far over its zero and noise, far under any flow
	}
	return nil, 0, fmt.Errorf("chip %q is not known; write one of %s", f.Chip, chips)
}

func isDifference(q shop.Quantity) bool {
	switch q {
	case shop.FilterDrop, shop.StaticPressure, shop.VelocityPressure, shop.SeparatorDrop:
		return true
	}
	return false
}

// position adds the source of a gate or a fan switch: 1 open or running, 0 shut or at rest.
func (b *builder) position(channel string, f *shop.Source) error {
	switch f.Kind {
	case shop.SourceGPIO:
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
	case shop.SourceFixed:
		b.add("fixed", &fixed{channel, numeral(f.Fixed)}, nil)
	case shop.SourceI2C:
		return fmt.Errorf("%s: a chip tells no position; from: takes a pin, a topic, a fixed position or by hand", channel)
	}
	return nil
}

// selector adds the source of a selector. A pin or a fixed position cannot tell ports apart.
func (b *builder) selector(s *shop.Selector) error {
	channel := "selector/" + s.Name
	switch {
	case s.Position == nil || s.Position.Kind == shop.SourceByHand:
		return nil
	case s.Position.Kind == shop.SourceMQTT:
		return b.topic(channel, s.Position, wantPort(s.Ports), switchInterval)
	}
	return fmt.Errorf("%s: its position must come from a topic that gives the port's number or name, or by hand", channel)
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
	return errs
}

// defaultStale is how old a published value may be where the shop file does not say.
const defaultStale = 30 * time.Second
