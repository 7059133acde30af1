// Package adp810 reads Aosong's ADP810 differential pressure sensor over I²C.
//
// Datasheet: Aosong, "Datasheet ADP810-Digital", not seen. The command, the wait of 10 ms at least (section 5.3.1), the
// checksum (5.4), the form of the answer and the scale of the temperature are those of the Linux driver
// drivers/iio/pressure/adp810.c, which cites it; the address and the scale of 60 counts per Pa are from memory.
//
// The part is thermal, as package sdp8xx tells it: for velocity pressure or clean taps only. Its answer has the same form
// and the same checksums. Four different things:
//   - Resolution: a count is 1/60 Pa.
//   - Noise: about 0.1 Pa, from memory.
//   - Zero: about 0.1 Pa, from memory.
//   - Accuracy: 3 % of the reading. Like any thermal part it feels mass flow; its sheet is not known to say at which
//     barometric pressure it was calibrated, so that nothing is corrected here and up to 5 % more must be reckoned with.
//
// A known trap: it shares its address with one of the SDP8xx, and answers nothing to their product number.
package adp810

import (
	"time"

	"periph.io/x/conn/v3/i2c"

	"ductward/hardware/sdp8xx"
)

// Address is fixed.
const Address uint16 = 0x25

// Span is the full scale of the only part of the family, in Pa.
const Span = 500

// Section 5.3.1, high byte first: one measurement, without clock stretching as it is used here, since the answer is not
// asked for before it is ready.
var measure = [2]byte{0x37, 0x2D}

// Conversion is twice what section 5.3.1 asks for at least.
const Conversion = 20 * time.Millisecond

// Dev is one part on a bus. It is for one goroutine.
type Dev struct {
	Bus   i2c.Bus
	Addr  uint16
	Sleep func(time.Duration)

	frame sdp8xx.Frame
}

// Read measures once, in 20 ms. Its errors are those of package sdp8xx, whose frame it answers.
func (d *Dev) Read() (sdp8xx.Sample, error) {
	if err := d.Start(); err != nil {
		return sdp8xx.Sample{}, err
	}
	d.Sleep(Conversion)
	return d.Fetch()
}

// Start lets the part measure; its answer is there to be fetched after Conversion.
func (d *Dev) Start() error { return d.Bus.Tx(d.Addr, measure[:], nil) }

// Fetch reads what was measured.
func (d *Dev) Fetch() (sdp8xx.Sample, error) {
	if err := d.Bus.Tx(d.Addr, nil, d.frame[:]); err != nil {
		return sdp8xx.Sample{}, err
	}
	s, err := sdp8xx.Decode(&d.frame)
	if err == nil && s.Span != Span {
		return sdp8xx.Sample{Counts: s.Counts}, sdp8xx.ErrRange
	}
	return s, err
}
