package rig

import (
	"errors"
	"math"
	"time"

	"ductward/internal/shop"
)

// ads1115 is a simulated ADS1115. Datasheet: Texas Instruments SBAS444E, from memory: a pointer, a conversion register, a
// config register; a written OS bit starts a conversion of the input that the config names, at its gain.
type ads1115 struct {
	addr    uint16
	inputs  [4]*adsInput
	pointer byte
	config  uint16
	ready   time.Duration
	result  int16
}

// adsInput is what is wired to one input.
type adsInput struct {
	from   shop.Source
	value  func(now time.Duration) float64 // what the transmitter measures, SI
	faults faults
	held   float64 // V, of a transmitter that sticks
}

const (
	adsReset = 0x8583
	adsStart = 0x8000
)

var (
	adsScales = [8]float64{6.144, 4.096, 2.048, 1.024, 0.512, 0.256, 0.256, 0.256}
	adsRates  = [8]int{8, 16, 32, 64, 128, 250, 475, 860}
)

func newADS1115(address uint16) *ads1115 { return &ads1115{addr: address, config: adsReset} }

func (d *ads1115) address() uint16 { return d.addr }

func (d *ads1115) restart(now time.Duration) { d.ready = now }

// write sets the pointer, and the config register where two bytes follow it.
func (d *ads1115) write(now time.Duration, instant bool, w []byte) error {
	if len(w) == 0 {
		return nil
	}
	if d.pointer = w[0] & 3; len(w) < 3 || d.pointer != 1 {
		return nil
	}
	d.config = uint16(w[1])<<8 | uint16(w[2])
	if d.config&adsStart == 0 || !instant && now < d.ready {
		return nil
	}
	d.ready = now + time.Second/time.Duration(adsRates[d.config>>5&7])
	d.convert(now)
	return nil
}

// convert measures the input that the config register names. What is against another input is not simulated.
func (d *ads1115) convert(now time.Duration) {
	volts := 0.0
	if which := d.config >> 12 & 7; which >= 4 && d.inputs[which-4] != nil {
		volts = d.inputs[which-4].volts(now)
	}
	counts := math.Round(volts / adsScales[d.config>>9&7] * (1 << 15))
	d.result = int16(math.Min(math.MaxInt16, math.Max(math.MinInt16, counts)))
}

// volts is the voltage at the input: what the transmitter sends through its burden or divider.
func (in *adsInput) volts(now time.Duration) float64 {
	switch f := &in.from; {
	case in.faults.unplugged:
		return 0
	case in.faults.stuck:
		return in.held
	case in.faults.saturated && f.Signal == shop.Current:
		return 20.8e-3 * f.Burden
	case f.Signal == shop.Current:
		in.held = (4e-3 + 16e-3*in.share(now)) * f.Burden
	case f.Signal == shop.Volts5:
		in.held = 5 * in.share(now) / f.Divider
	default:
		in.held = 10 * in.share(now) / f.Divider
	}
	return in.held
}

// share is where the value lies in the transmitter's range, which it leaves by little.
func (in *adsInput) share(now time.Duration) float64 {
	if in.faults.saturated {
		return 1.05
	}
	return math.Min(1.04, math.Max(-0.02, (in.value(now)-in.from.Low)/(in.from.High-in.from.Low)))
}

func (d *ads1115) read(now time.Duration, instant bool, r []byte) error {
	word := uint16(d.result)
	if d.pointer == 1 {
		word = d.config | adsStart
		if !instant && now < d.ready {
			word &^= adsStart
		}
	}
	for i := range r {
		r[i] = byte(word >> (8 * (1 - i%2)))
	}
	return nil
}

// fail and mend are of the whole part; each input has its own.
func (d *ads1115) fail(fault) error { return errors.New("break one of its inputs") }
func (d *ads1115) mend()            {}

func (in *adsInput) fail(f fault) error {
	if f == badCRC || f == latchUp {
		return errors.New("a current has no checksum and does not latch up")
	}
	return in.faults.set(f)
}

func (in *adsInput) mend() { in.faults = faults{} }
