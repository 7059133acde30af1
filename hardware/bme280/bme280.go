// Package bme280 reads Bosch's BME280 (temperature, humidity, pressure) and BMP280 (without humidity) over I²C, by periph's
// devices/v3/bmxx80.
//
// Datasheet: Bosch BST-BME280-DS002, "BME280 Combined humidity and pressure sensor". Addresses are 0x76 and 0x77 (section
// 6.2). The library reads the part's calibration, compensates by the sheet's integer formulas (section 4.2.3) and waits
// until a measurement has ended. Two things are added here: it waits without end for a part that stays busy, so that the
// transfers of one measurement are counted; and a part whose supply failed between two measurements would no longer
// measure humidity, so that its register is written before each.
//
// Four different things:
//   - Resolution: 0.01 K, 0.01 Pa, 0.01 % of humidity.
//   - Noise: about a Pa at the plain settings that are used here, 0.005 K, 0.07 % of humidity.
//   - Zero: none; it measures absolutely.
//   - Accuracy: 1 K, 100 Pa, 3 % of humidity. It warms itself and its board; keep it away from the computer.
package bme280

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/devices/v3/bmxx80"
)

// The addresses.
const (
	Address    uint16 = 0x76
	AddressAlt uint16 = 0x77
)

// regHumidity is ctrl_hum, section 5.4.3; once is one sample. It holds from the next write to ctrl_meas on.
const (
	regHumidity = 0xF2
	once        = 1
)

// mostTransfers is more than one measurement needs: two writes, a few looks at the status, one read.
const mostTransfers = 200

// Error is a reason why there is no reading.
type Error string

// Error returns the reason.
func (e Error) Error() string { return string(e) }

// The reasons. A bus that does not answer is none of them: its own error is returned.
const (
	ErrBusy  Error = "the part does not end its measurement"
	ErrChip  Error = "another part answers than a BME280 or BMP280"
	ErrRange Error = "the part answers values that it cannot measure: it has lost its calibration or its supply"
)

// Sample is one measurement.
type Sample struct {
	Temperature float64 // K, of the part
	Pressure    float64 // Pa absolute
	Humidity    float64 // relative, 0..1; NaN: a BMP280 has none
}

// Dev is one part on a bus. It is for one goroutine.
type Dev struct {
	Addr uint16

	bus  counted
	dev  *bmxx80.Dev
	wets bool // it measures humidity
}

// Start asks the part who it is, and reads its calibration.
func (d *Dev) Start(bus i2c.Bus) error {
	d.bus, d.dev = counted{Bus: bus}, nil
	dev, err := bmxx80.NewI2C(&d.bus, d.Addr, &bmxx80.Opts{Temperature: bmxx80.O1x, Pressure: bmxx80.O1x, Humidity: bmxx80.O1x})
	if err != nil {
		if d.bus.err != nil {
			return d.bus.err
		}
		return fmt.Errorf("%w: %w", ErrChip, err)
	}
	if name := dev.String(); !strings.HasPrefix(name, "BME280") && !strings.HasPrefix(name, "BMP280") {
		return fmt.Errorf("%w: %s", ErrChip, name)
	}
	d.dev, d.wets = dev, strings.HasPrefix(dev.String(), "BME280")
	return nil
}

// Read measures once, in about 10 ms. Start must have been called.
func (d *Dev) Read() (Sample, error) {
	if d.dev == nil {
		return Sample{}, errors.New("the part was not set up")
	}
	d.bus.count, d.bus.err = 0, nil
	if d.wets {
		if err := d.bus.Tx(d.Addr, []byte{regHumidity, once}, nil); err != nil {
			return Sample{}, err
		}
	}
	var e physic.Env
	if err := d.dev.Sense(&e); err != nil {
		if d.bus.err != nil {
			return Sample{}, d.bus.err
		}
		return Sample{}, err
	}
	s := Sample{Temperature: float64(e.Temperature) / float64(physic.Kelvin), Pressure: float64(e.Pressure) / float64(physic.Pascal), Humidity: math.NaN()}
	if d.wets {
		s.Humidity = float64(e.Humidity) / float64(100*physic.PercentRH)
	}
	return s, s.check()
}

// check holds the values against what the part can measure at all (section 1.2 to 1.4): −40 to 85 °C, 300 to 1100 hPa.
func (s *Sample) check() error {
	if s.Temperature < 233.15 || s.Temperature > 358.15 || s.Pressure < 30e3 || s.Pressure > 110e3 || s.Humidity < 0 || s.Humidity > 1 {
		return ErrRange
	}
	return nil
}

// counted is a bus that lets only so many transfers pass, and remembers its error, which the library turns into a text.
type counted struct {
	i2c.Bus
	count int
	err   error
}

// Tx makes one transfer.
func (c *counted) Tx(addr uint16, w, r []byte) error {
	if c.count++; c.count > mostTransfers {
		c.err = ErrBusy
		return c.err
	}
	c.err = c.Bus.Tx(addr, w, r)
	return c.err
}
