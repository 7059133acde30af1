package rig

import (
	"errors"
	"math"
	"time"

	"ductward/internal/shop"
)

// abp2 is a simulated Honeywell ABP2 on I²C. Datasheet: Honeywell 32350268, "ABP2 Series Board Mount Pressure Sensors",
// from memory, and as in the Linux driver drivers/iio/pressure/abp2030pa.c: the command AA 00 00 starts a
// conversion of 5 ms; a read gives the status byte, 24 bits of pressure and 24 bits of temperature, high byte first.
type abp2 struct {
	addr      uint16
	low, high float64 // Pa at 10 % and 90 % of the counts
	probe     probe
	faults    faults

	begun   bool // a conversion has been asked for since power-up
	ready   time.Duration
	frame   [7]byte
	latched bool
}

const (
	abpConversion = 5 * time.Millisecond
	abpPowered    = 0x40
	abpBusy       = 0x20
	abpTop        = 1 << 24
	abpSelfHeat   = 1.5 // K by which the die is warmer than the room
)

func newABP2(f shop.Source, p probe) *abp2 {
	d := &abp2{addr: f.Address, low: -f.Span, high: f.Span, probe: p}
	if f.OneSided {
		d.low = 0
	}
	return d
}

func (d *abp2) address() uint16 { return d.addr }

func (d *abp2) restart(now time.Duration) { d.probe.last, d.ready = now, now }

// write takes the measurement command; the part knows no other in its normal mode.
func (d *abp2) write(now time.Duration, instant bool, w []byte) error {
	if d.faults.unplugged {
		return errNACK
	}
	if len(w) != 3 || w[0] != 0xAA || w[1] != 0 || w[2] != 0 {
		return nil // acknowledged and ignored
	}
	if !instant && now < d.ready {
		return nil // still converting
	}
	d.begun = true
	d.ready = now + abpConversion
	if d.faults.stuck {
		return nil
	}
	d.convert(now)
	return nil
}

// convert measures.
func (d *abp2) convert(now time.Duration) {
	pa := d.probe.sample(now)
	if d.faults.saturated {
		pa = d.high * 2
	}
	counts := (0.1 + 0.8*(pa-d.low)/(d.high-d.low)) * abpTop
	p := uint32(math.Round(math.Min(abpTop-1, math.Max(1, counts))))
	c := d.probe.plant.Air().Temperature - 273.15 + abpSelfHeat
	t := uint32(math.Round(math.Min(1, math.Max(0, (c+50)/200)) * (abpTop - 1)))
	if d.latched {
		p = 0 // a latched-up part: good status, no counts
	}
	d.frame = [7]byte{abpPowered, byte(p >> 16), byte(p >> 8), byte(p), byte(t >> 16), byte(t >> 8), byte(t)}
}

// read answers the last conversion, or that one is under way.
func (d *abp2) read(now time.Duration, instant bool, r []byte) error {
	if d.faults.unplugged {
		return errNACK
	}
	for i := range r {
		r[i] = 0xFF // nobody drives the wire after the last byte
	}
	if !d.begun {
		d.frame[0] = abpPowered
	}
	copy(r, d.frame[:])
	if !instant && now < d.ready {
		r[0] = abpPowered | abpBusy
	}
	return nil
}

// fail breaks the part.
func (d *abp2) fail(f fault) error {
	switch f {
	case badCRC:
		return errors.New("an ABP2 sends no checksum that could be wrong")
	case latchUp:
		d.latched = true
		return nil
	}
	return d.faults.set(f)
}

// mend makes it whole; a part that comes back from being unplugged has lost its last conversion.
func (d *abp2) mend() {
	if d.faults.unplugged {
		d.begun, d.frame = false, [7]byte{}
	}
	d.faults, d.latched = faults{}, false
}
