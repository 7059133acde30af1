package rig

import (
	"errors"
	"math"
	"time"

	"ductward/internal/shop"
)

// hsc is a simulated Honeywell HSC. Datasheet: Honeywell 50099148 with the technical note on I²C, from memory, and compared
// with the Linux driver drivers/iio/pressure/hsc030pa.c: it measures by itself about once a millisecond; a read gives two
// bits of status, fourteen of pressure between 10 % and 90 %, and eleven of temperature; one that comes before the next
// result gives the last one, marked stale.
type hsc struct {
	addr      uint16
	low, high float64 // Pa at 10 % and 90 % of the counts
	probe     probe
	faults    faults

	next  time.Duration // when the next result is there
	asked bool          // there has been one
	frame [4]byte
}

const (
	hscUpdate = 920 * time.Microsecond
	hscStale  = 0x80
	hscTop    = 1 << 14
)

func newHSC(f shop.Source, p probe) *hsc {
	d := &hsc{addr: f.Address, low: -f.Span, high: f.Span, probe: p}
	if f.OneSided {
		d.low = 0
	}
	return d
}

func (d *hsc) address() uint16 { return d.addr }

func (d *hsc) restart(now time.Duration) { d.probe.last, d.next = now, now }

// write takes nothing: the part knows no command in its normal mode.
func (d *hsc) write(time.Duration, bool, []byte) error {
	if d.faults.unplugged {
		return errNACK
	}
	return nil
}

// read answers the last result.
func (d *hsc) read(now time.Duration, instant bool, r []byte) error {
	if d.faults.unplugged {
		return errNACK
	}
	for i := range r {
		r[i] = 0xFF // nobody drives the wire after the last byte
	}
	fresh := instant || !d.asked || now >= d.next
	if fresh && !d.faults.stuck {
		d.measure(now)
	}
	d.asked = true
	copy(r, d.frame[:])
	if !fresh && len(r) > 0 {
		r[0] |= hscStale
		return nil
	}
	d.next = now + hscUpdate
	return nil
}

func (d *hsc) measure(now time.Duration) {
	pa := d.probe.sample(now)
	if d.faults.saturated {
		pa = d.high * 2
	}
	counts := (0.1 + 0.8*(pa-d.low)/(d.high-d.low)) * hscTop
	p := uint16(math.Round(math.Min(hscTop-1, math.Max(0, counts))))
	c := d.probe.plant.Air().Temperature - 273.15 + abpSelfHeat
	t := uint16(math.Round((c + 50) / 200 * 2047))
	d.frame = [4]byte{byte(p >> 8), byte(p), byte(t >> 3), byte(t << 5)}
}

func (d *hsc) fail(f fault) error {
	if f == badCRC {
		return errors.New("an HSC sends no checksum that could be wrong")
	}
	return d.faults.set(f)
}

func (d *hsc) mend() { d.faults = faults{} }
