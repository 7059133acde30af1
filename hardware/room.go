package hardware

import (
	"errors"
	"time"

	"periph.io/x/conn/v3/i2c"

	"ductward/hardware/bme280"
	"ductward/internal/clock"
	"ductward/internal/shop"
)

// fresh is how old a measurement of the room's air may be when another channel takes its part of it: they are read one
// after the other.
const fresh = 500 * time.Millisecond

// roomPlace is where a part of the room's air sits.
type roomPlace struct {
	bus  string
	mux  uint16
	port int
	addr uint16
}

// roomPart is one BME280, of which each channel takes a part. Its channels share a bus, and so a goroutine.
type roomPart struct {
	dev     bme280.Dev
	clock   clock.Clock
	sample  bme280.Sample
	at      time.Duration // monotonic, of the sample
	number  int           // of the sample; 0: none yet
	started bool
}

func (b *builder) roomPart(f *shop.Source) *roomPart {
	at := roomPlace{busKey(f.Bus), f.Mux, f.Port, f.Address}
	p := b.rooms[at]
	if p == nil {
		p = &roomPart{dev: bme280.Dev{Addr: f.Address}, clock: b.clock}
		b.rooms[at] = p
	}
	return p
}

// measure makes a new measurement.
func (p *roomPart) measure() error {
	s, err := p.dev.Read()
	if err != nil {
		p.started = false
		return err
	}
	p.sample, p.at = s, p.clock.Mono()
	p.number++
	return nil
}

// roomChip is one channel of a BME280.
type roomChip struct {
	part     *roomPart
	quantity shop.Quantity
	taken    int // number of the sample that was read last: none is read twice
}

func (c *roomChip) setUp(bus i2c.Bus) error {
	if c.part.started {
		return nil
	}
	if err := c.part.dev.Start(bus); err != nil {
		return err
	}
	c.part.started = true
	return nil
}

func (c *roomChip) read() (int32, float64, bool, error) {
	p := c.part
	if p.number == c.taken || p.clock.Mono()-p.at > fresh {
		if err := p.measure(); err != nil {
			return 0, 0, false, err
		}
	}
	c.taken = p.number
	switch c.quantity {
	case shop.AirTemperature:
		return int32(p.number), p.sample.Temperature, false, nil
	case shop.BarometricPressure:
		return int32(p.number), p.sample.Pressure, false, nil
	}
	return int32(p.number), p.sample.Humidity, false, nil // NaN of a part that measures none is a fault
}

func (c *roomChip) halt() {}

func (c *roomChip) code(err error) (Code, bool) {
	switch {
	case errors.Is(err, bme280.ErrBusy):
		return Busy, true
	case errors.Is(err, bme280.ErrChip):
		return WrongChip, true
	case errors.Is(err, bme280.ErrRange):
		return ChipError, true
	}
	return "", false
}
