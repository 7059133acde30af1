package hardware

import (
	"errors"
	"strconv"

	"periph.io/x/conn/v3/i2c"

	"ductward/hardware/ads1115"
	"ductward/hardware/loop"
	"ductward/internal/reading"
	"ductward/internal/shop"
)

// transmitter returns the chip of a signal behind a converter.
func (b *builder) transmitter(f *shop.Source) *transmitter {
	s := loop.Scale{Burden: f.Burden, Divider: f.Divider, Low: f.Low, High: f.High}
	switch f.Signal {
	case shop.Volts10:
		s.Signal = loop.Volts10
	case shop.Volts5:
		s.Signal = loop.Volts5
	}
	return &transmitter{scale: s, dev: ads1115.Dev{Addr: f.Address, Input: f.Input, FullScale: ads1115.FullScaleFor(s.Most()), Sleep: b.clock.Sleep}}
}

// transmitter is an industrial transmitter on an input of an ADS1115.
type transmitter struct {
	dev   ads1115.Dev
	scale loop.Scale
}

func (c *transmitter) setUp(bus i2c.Bus) error { c.dev.Bus = bus; return nil }

func (c *transmitter) read() (int32, float64, bool, error) {
	counts, volts, err := c.dev.Read()
	if err != nil {
		return int32(counts), 0, false, err
	}
	v, uncertain, err := c.scale.Value(volts)
	return int32(counts), v, uncertain, err
}

func (c *transmitter) halt() {}

func (c *transmitter) code(err error) (Code, bool) {
	switch {
	case errors.Is(err, loop.ErrFailedLow), errors.Is(err, loop.ErrFailedHigh):
		return LoopFault, true
	case errors.Is(err, loop.ErrUnder), errors.Is(err, loop.ErrOver), errors.Is(err, ads1115.ErrClipped):
		return Saturated, true
	case errors.Is(err, ads1115.ErrBusy):
		return Busy, true
	case errors.Is(err, ads1115.ErrConfig):
		return ChipError, true
	}
	return "", false
}

// backlash is by how much of the signal a clamp must fall below its threshold to tell that the fan stands: a current that
// lies at the threshold would let it chatter. Common practice, no source.
const backlash = 0.03

// clamp tells from a signal whether a fan runs, or a contact is closed: a current clamp with an output of its own, a relay's
// voltage, or a monitor. A current
// that says that the transmitter has failed is a fault and not a fan that stands.
type clamp struct {
	sensor
	above   float64 // share of the signal
	running bool
}

// clamp adds the switch of a fan behind a converter.
func (b *builder) clamp(channel string, f *shop.Source) {
	way, f0 := b.way(f), *f
	f0.Low, f0.High = 0, 1
	p := &clamp{above: f.OnAbove, sensor: sensor{health: b.health(channel, way.place(f.Address)+" input "+strconv.Itoa(f.Input)),
		interval: switchInterval, way: way, clock: b.clock, chip: b.transmitter(&f0), sign: 1, stuck: stuckWatch{quiet: 2}}}
	b.feed(f.Bus, &p.sensor)
	b.add("i2c "+busKey(f.Bus), p, &p.health)
}

// Read tells whether the fan runs; see Poller.
func (p *clamp) Read() (float64, reading.Quality, error) {
	share, _, err := p.sensor.Read()
	if err != nil {
		return share, reading.Good, err
	}
	threshold := p.above
	if p.running {
		threshold -= backlash
	}
	p.running = share > threshold
	return numeral(p.running), reading.Good, nil
}
