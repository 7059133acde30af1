package rig

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"sync"
	"time"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/i2c"

	"ductward/internal/clock"
	"ductward/internal/plant"
	"ductward/internal/shop"
)

// Rig is a board whose wires lead to simulated plants. It is safe for concurrent use; the plants belong to it.
type Rig struct {
	mu       sync.Mutex
	clk      clock.Clock
	instant  bool // conversions take no time
	before   func(now time.Time)
	seen     time.Duration // the moment to which the plants have been brought; negative: none of this clock
	buses    []*bus
	pins     []*pin
	supplies []*supplyPin
	topics   map[string]*topic
	stations map[registerAt]*stationValue
	channels map[string]breakable
}

// breakable is something whose wire or part can fail.
type breakable interface {
	fail(f fault) error
	mend()
}

// New wires a rig for a shop. plants holds the plant of each collector, by name; one that is missing is an error.
func New(plants map[string]*plant.Plant, s *shop.Shop, clk clock.Clock) (*Rig, error) {
	r := &Rig{topics: map[string]*topic{}, stations: map[registerAt]*stationValue{}, channels: map[string]breakable{}}
	r.use(clk)
	var errs []error
	for _, c := range s.Collectors {
		p := plants[c.Name]
		if p == nil {
			errs = append(errs, fmt.Errorf("rig: there is no plant for collector %q", c.Name))
			continue
		}
		errs = append(errs, r.collector(c, p))
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	r.supplyPins(s)
	return r, nil
}

// tick is long enough for any clock that goes to be seen to go.
const tick = 50 * time.Microsecond

// Use makes the rig follow another clock from now on. What has happened stays as it is.
func (r *Rig) Use(clk clock.Clock) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.use(clk)
}

func (r *Rig) use(clk clock.Clock) {
	r.clk, r.seen = clk, -1
	before := clk.Mono()
	clk.Sleep(tick)
	r.instant = clk.Mono() == before
	for _, b := range r.buses {
		for _, d := range b.devices {
			d.restart(clk.Mono())
		}
	}
}

// collector wires the sensors, gates, selectors, contacts and fan of one collector.
func (r *Rig) collector(c *shop.Collector, p *plant.Plant) error {
	var errs []error
	for _, s := range c.Sensors {
		errs = append(errs, r.sensor(c, s, p))
	}
	if c.FanSwitch != nil {
		errs = append(errs, r.position(c.Name+"/fan", c.FanSwitch, 1, func() int { return number(p.FanOn()) }))
	}
	for _, g := range c.Gates {
		if g.Position != nil {
			errs = append(errs, r.position("gate/"+g.Name, g.Position, 1, func() int { return number(p.GateOpen(g.Name)) }))
		}
	}
	for _, s := range c.Selectors {
		if s.Position != nil {
			errs = append(errs, r.position("selector/"+s.Name, s.Position, 2, func() int { return p.Port(s.Name) }))
		}
	}
	for _, x := range c.Contacts { // the simulated bin never fills, and no dust passes the filter
		errs = append(errs, r.position(shop.ContactChannel(x.Name), x.From, 1, func() int { return 0 }))
	}
	return errors.Join(errs...)
}

func number(b bool) int {
	if b {
		return 1
	}
	return 0
}

// position wires a switch. On a pin, active is the value that it tells by its active level.
func (r *Rig) position(channel string, f *shop.Source, active int, value func() int) error {
	switch f.Kind {
	case shop.SourceGPIO:
		for i, name := range f.Pins {
			p := &pin{rig: r, name: name, activeLow: f.ActiveLow, active: func() bool { return value() == i+1 }}
			r.pins = append(r.pins, p)
			r.channels[channel] = p // of the last port: to break it breaks the selector
		}
		if len(f.Pins) > 0 {
			break
		}
		p := &pin{rig: r, name: f.Pin, activeLow: f.ActiveLow, active: func() bool { return value() == active }}
		r.pins = append(r.pins, p)
		r.channels[channel] = p
		if f.ShutPin != "" {
			r.pins = append(r.pins, &pin{rig: r, name: f.ShutPin, activeLow: f.ActiveLow, active: func() bool { return value() == 0 }})
		}
	case shop.SourceMQTT:
		return r.topic(channel, f, "", func() (float64, error) { return float64(value()), nil })
	case shop.SourceModbus:
		return r.station(channel, f, func(time.Duration) float64 { return float64(value()) })
	case shop.SourceI2C: // a clamp: half of its signal while the fan runs
		from := *f
		from.Low, from.High = 0, 1
		return r.input(channel, from, func(time.Duration) float64 { return 0.5 * float64(value()) })
	}
	return nil
}

// sensor wires a sensor to its part or topic.
func (r *Rig) sensor(c *shop.Collector, s *shop.Sensor, p *plant.Plant) error {
	channel := c.Name + "/" + s.Name
	tap := p.Tap(channel)
	if tap == nil {
		return fmt.Errorf("rig: the plant of collector %q has no channel %q", c.Name, channel)
	}
	switch s.From.Kind {
	case shop.SourceI2C:
		return r.chip(channel, s, probe{tap: tap, plant: p, swapped: s.From.Swapped})
	case shop.SourceModbus:
		return r.measuredAt(channel, s, &probe{tap: tap, plant: p, swapped: s.From.Swapped})
	case shop.SourceMQTT:
		kind, err := kindOf(s.Measures)
		if err != nil {
			return fmt.Errorf("rig: channel %q: %w", channel, err)
		}
		pr := &probe{tap: tap, plant: p}
		senml, convert := published(kind, &s.From)
		return r.topic(channel, &s.From, senml, func() (float64, error) { return convert(pr.sample(r.clk.Mono())) })
	}
	return nil
}

// chip puts a part on its bus.
func (r *Rig) chip(channel string, s *shop.Sensor, pr probe) error {
	switch s.From.Chip {
	case "ads1115":
		return r.input(channel, s.From, pr.sample)
	case "bme280":
		return r.room(channel, s, pr)
	}
	d := part(s.From, pr)
	if d == nil {
		return fmt.Errorf("rig: channel %q: there is no simulated %q", channel, s.From.Chip)
	}
	return r.hang(channel, s.From, d, d)
}

// hang puts a part on its bus, unless its place is taken. A channel breaks what is its own of it.
func (r *Rig) hang(channel string, f shop.Source, d device, own breakable) error {
	b := r.busOf(f)
	if b.at(f) != nil {
		return fmt.Errorf("rig: channel %q: address 0x%02X of bus %q is taken", channel, f.Address, b.name)
	}
	b.devices = append(b.devices, &place{device: d, mux: b.muxAt(f.Mux), port: f.Port})
	r.channels[channel] = own
	return nil
}

// busOf returns the bus of a source, made when it is first asked for.
func (r *Rig) busOf(f shop.Source) *bus {
	name := busName(f.Bus)
	b := r.busNamed(name)
	if b == nil {
		b = &bus{rig: r, name: name}
		r.buses = append(r.buses, b)
	}
	return b
}

// at returns the part at the place of a source; nil where there is none.
func (b *bus) at(f shop.Source) device {
	mux := b.muxAt(f.Mux)
	for _, p := range b.devices {
		if p.address() == f.Address && p.mux == mux && p.port == f.Port {
			return p.device
		}
	}
	return nil
}

// input wires a transmitter, or a clamp, to an input of a converter.
func (r *Rig) input(channel string, f shop.Source, value func(time.Duration) float64) error {
	in := &adsInput{from: f, value: value}
	d, ok := r.busOf(f).at(f).(*ads1115)
	if ok {
		r.channels[channel] = in
	} else {
		d = newADS1115(f.Address)
		if err := r.hang(channel, f, d, in); err != nil {
			return err
		}
	}
	if d.inputs[f.Input] != nil {
		return fmt.Errorf("rig: channel %q: input %d of address 0x%02X is taken", channel, f.Input, f.Address)
	}
	d.inputs[f.Input] = in
	return nil
}

// room lets a part that measures the room's air feel one more thing.
func (r *Rig) room(channel string, s *shop.Sensor, pr probe) error {
	d, ok := r.busOf(s.From).at(s.From).(*bme280)
	if !ok {
		d = newBME280(s.From.Address)
	}
	felt := &bmeFelt{part: d, value: pr.sample}
	d.feels[s.Measures] = felt
	if ok {
		r.channels[channel] = felt
		return nil
	}
	return r.hang(channel, s.From, d, felt)
}

// part makes the part of a source; nil where there is none to simulate.
func part(f shop.Source, p probe) device {
	switch f.Chip {
	case "abp2":
		return newABP2(f, p)
	case "sdp8xx":
		return newSDP8xx(f, p)
	case "sdp3x":
		return newSDP3x(f, p)
	case "adp810":
		return newADP810(f, p)
	case "hsc":
		return newHSC(f, p)
	case "dlh":
		return newDLH(f, p)
	}
	return nil
}

// busName drops what may stand before a bus's number.
func busName(name string) string {
	return strings.TrimPrefix(strings.TrimPrefix(name, "/dev/i2c-"), "I2C")
}

func (r *Rig) busNamed(name string) *bus {
	for _, b := range r.buses {
		if b.name == name {
			return b
		}
	}
	return nil
}

// I2C returns a bus on which the shop has parts.
func (r *Rig) I2C(name string) (i2c.Bus, error) {
	if b := r.busNamed(busName(name)); b != nil {
		return b, nil
	}
	return nil, fmt.Errorf("rig: no part of the shop is on i2c bus %q", name)
}

// I2CNames lists the buses on which the shop has parts.
func (r *Rig) I2CNames() []string {
	var names []string
	for _, b := range r.buses {
		names = append(names, b.name)
	}
	return names
}

// Pin returns a pin that a switch of the shop is on.
func (r *Rig) Pin(name string) (gpio.PinIn, error) {
	for _, p := range r.pins {
		if p.name == name {
			return p, nil
		}
	}
	return nil, fmt.Errorf("rig: no switch of the shop is on pin %q", name)
}

// moment brings the plants to the clock's moment and returns it. The lock must be held.
func (r *Rig) moment() time.Duration {
	now := r.clk.Mono()
	if r.before != nil && now != r.seen { // a virtual clock stands while all wires are asked
		r.before(r.clk.Now())
		r.seen = now
	}
	return now
}

// probe samples a plant's tap in step with the clock.
type probe struct {
	tap     *plant.Tap
	plant   *plant.Plant
	swapped bool
	last    time.Duration
}

// sample returns what the sensor's part feels now. Where the plant's state has no solution it is infinite, so that a
// part answers the end of its range and never a number.
func (p *probe) sample(now time.Duration) float64 {
	dt := (now - p.last).Seconds()
	p.last = now
	v := p.tap.Sample(max(0, dt))
	if math.IsNaN(v) {
		return math.Inf(1)
	}
	if p.swapped {
		return -v
	}
	return v
}
