package rig

import (
	"errors"
	"math"
	"time"

	"ductward/internal/shop"
)

// dlh is a simulated All Sensors DLHR. Datasheet: All Sensors DS-0355, revision A, tables 1 to 3: AA to AF, each with two
// bytes of 0 behind it, start one conversion or the mean of 2 to 16; a read gives a status byte, 24 bits of pressure between
// 10 % and 90 % and 24 of temperature.
type dlh struct {
	addr      uint16
	low, high float64 // Pa at 10 % and 90 % of the counts
	probe     probe
	faults    faults

	ready time.Duration
	frame [7]byte
}

const (
	dlhConversion = 4100 * time.Microsecond
	dlhPowered    = 0x40
	dlhBusy       = 0x20
	dlhTop        = 1 << 24
)

func newDLH(f shop.Source, p probe) *dlh {
	d := &dlh{addr: f.Address, low: -f.Span, high: f.Span, probe: p}
	if f.OneSided {
		d.low = 0
	}
	return d
}

func (d *dlh) address() uint16 { return d.addr }

func (d *dlh) restart(now time.Duration) { d.probe.last, d.ready = now, now }

// conversions tells how many a command asks for; 0 for another command.
func conversions(command byte) int {
	switch command {
	case 0xAA:
		return 1
	case 0xAC:
		return 2
	case 0xAD:
		return 4
	case 0xAE:
		return 8
	case 0xAF:
		return 16
	}
	return 0
}

func (d *dlh) write(now time.Duration, instant bool, w []byte) error {
	if d.faults.unplugged {
		return errNACK
	}
	if len(w) != 3 || conversions(w[0]) == 0 || w[1] != 0 || w[2] != 0 || !instant && now < d.ready {
		return nil // acknowledged and ignored
	}
	d.ready = now + time.Duration(conversions(w[0]))*dlhConversion
	if !d.faults.stuck {
		d.convert(now)
	}
	return nil
}

func (d *dlh) convert(now time.Duration) {
	pa := d.probe.sample(now)
	if d.faults.saturated {
		pa = d.high * 2
	}
	counts := (0.1 + 0.8*(pa-d.low)/(d.high-d.low)) * dlhTop
	p := uint32(math.Round(math.Min(dlhTop-1, math.Max(0, counts))))
	c := d.probe.plant.Air().Temperature - 273.15
	t := uint32(math.Round((c + 40) / 125 * dlhTop))
	d.frame = [7]byte{dlhPowered, byte(p >> 16), byte(p >> 8), byte(p), byte(t >> 16), byte(t >> 8), byte(t)}
}

func (d *dlh) read(now time.Duration, instant bool, r []byte) error {
	if d.faults.unplugged {
		return errNACK
	}
	for i := range r {
		r[i] = 0xFF
	}
	d.frame[0] = dlhPowered
	copy(r, d.frame[:])
	if !instant && now < d.ready && len(r) > 0 {
		r[0] |= dlhBusy
	}
	return nil
}

func (d *dlh) fail(f fault) error {
	if f == badCRC {
		return errors.New("a DLHR sends no checksum that could be wrong")
	}
	return d.faults.set(f)
}

func (d *dlh) mend() {
	if d.faults.unplugged {
		d.frame = [7]byte{}
	}
	d.faults = faults{}
}
