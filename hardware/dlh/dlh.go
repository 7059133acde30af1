// Package dlh reads All Sensors' DLH and DLHR low pressure sensors over I²C.
//
// Datasheet: All Sensors DS-0350, "DLHR Series Low Voltage Digital Pressure Sensors", revision A; the DLH (DS-0355) speaks
// alike. Sections are named by their titles. Seen of DS-0355, revision A: pages 5 and 6, with the commands (table 1), the
// form of the answer (table 2) and the status byte (table 3). The transfer functions, the address and the times are from
// memory; an open driver that cites DS-0350, revision A, and the Linux driver drivers/iio/pressure/dlhl60d.c, which cites
// DS-0355, revision B, have the same. The figures of noise, zero and accuracy are from memory alone.
//
// The part is a membrane: dead-ended, for dusty taps. It sleeps until it is asked. Four different things:
//   - Resolution: 16 to 18 bits of the 24 that it sends, by order code: 0.06 Pa or less of a part of ±2.5 kPa.
//   - Noise: some counts of those bits; the mean of four conversions, which is asked for here, halves it.
//   - Zero: 0.15 to 0.5 % of the span over warm-up and a year, before it is zeroed here.
//   - Accuracy: total error band 0.75 to 1 % of the span.
//
// Known traps. There is no checksum and no identity. What a part of 16 or 17 bits sends below these is undefined (page 6),
// and less than 0.1 Pa of one of ±2.5 kPa. The Linux driver sends the first byte of the command alone; the sheet has three.
// "Span" in the sheet's formula is the whole width, from −FS to +FS, of a differential part.
package dlh

import (
	"time"

	"periph.io/x/conn/v3/i2c"
)

// Address is that of every part that is sold without another one asked for.
const Address uint16 = 0x29

// Table 1, start commands of three bytes: AA single, AC the mean of 2, AD of 4, AE of 8, AF of 16.
var measure = [3]byte{0xAD, 0x00, 0x00}

// Sixteen conversions of 18 bits take 61.9 ms (revision A of DS-0350, as an open driver quotes it), so that four take 16;
// the busy bit is looked at again a few times.
const (
	Conversion = 17 * time.Millisecond
	retryBusy  = 3 * time.Millisecond
	busyTries  = 4
)

// Table 3. A completed reading without error says statusPower alone.
const (
	statusPower  = 0x40 // the part is powered: always set
	statusBusy   = 0x20
	statusMemory = 0x04 // the checksum of its memory is wrong
	statusConfig = 0x02 // always 0
	statusMode   = 0x18 // 0 in normal operation
	statusALU    = 0x01 // its arithmetic over- or underflowed
)

// The output runs from 10 % to 90 % of 2^24 counts (section "pressure output transfer function").
const (
	whole     = 1 << 24
	OutputMin = whole / 10
	OutputMax = whole * 9 / 10
	edge      = (OutputMax - OutputMin) / 100
)

// Error is a reason why there is no reading.
type Error string

// Error returns the reason.
func (e Error) Error() string { return string(e) }

// The reasons. A bus that does not answer is none of them: its own error is returned.
const (
	ErrBusy   Error = "the part still converts after 29 ms"
	ErrStatus Error = "the status byte is none that the part has: another part sits at its address"
	ErrMemory Error = "the part reports that its memory is damaged"
	ErrALU    Error = "the part's arithmetic ran over: the pressure is far out of its range"
	ErrLow    Error = "at the lower end of its range"
	ErrHigh   Error = "at the upper end of its range"
)

// Range is the pressure range of a part, as its order code says.
type Range struct {
	Span     float64 // Pa at full scale
	OneSided bool    // a gauge part, 0..Span; otherwise a differential one, −Span..Span
}

// Pressure turns counts into Pa, by the sheet's
//
//	p = 1.25 · (counts/2^24 − os) · width
//
// where os is 0.1 and the width Span for a gauge part, and 0.5 and twice the Span for a differential one.
func (r Range) Pressure(counts uint32) float64 {
	os, width := 0.5, 2*r.Span
	if r.OneSided {
		os, width = 0.1, r.Span
	}
	return 1.25 * (float64(counts)/whole - os) * width
}

// Temperature turns counts into K: the sheet's t = counts·125/2^24 − 40 in °C.
func Temperature(counts uint32) float64 { return float64(counts)*125/whole - 40 + 273.15 }

// Frame is what the part answers: status, three bytes of pressure, three of temperature, high byte first.
type Frame [7]byte

// Sample is one reading.
type Sample struct {
	Counts      uint32
	Pressure    float64 // Pa
	Temperature float64 // K, of the part
	NearEnd     bool    // within 1 % of an end of the range
}

// Decode turns a frame into a sample. At and past the ends of the range there is no pressure but ErrLow or ErrHigh; the
// zero of a gauge part may read up to 1 % below nothing. Counts is filled in with these two errors also.
func (r Range) Decode(f *Frame) (Sample, error) {
	if err := checkStatus(f[0]); err != nil {
		return Sample{}, err
	}
	s := Sample{Counts: uint32(f[1])<<16 | uint32(f[2])<<8 | uint32(f[3])}
	low := uint32(OutputMin)
	if r.OneSided {
		low -= edge
	}
	switch {
	case s.Counts <= low:
		return s, ErrLow
	case s.Counts >= OutputMax:
		return s, ErrHigh
	}
	s.Pressure = r.Pressure(s.Counts)
	s.Temperature = Temperature(uint32(f[4])<<16 | uint32(f[5])<<8 | uint32(f[6]))
	s.NearEnd = s.Counts > OutputMax-edge || (!r.OneSided && s.Counts < OutputMin+edge)
	return s, nil
}

func checkStatus(status byte) error {
	switch {
	case status&statusPower == 0 || status&(0x80|statusMode|statusConfig) != 0:
		return ErrStatus
	case status&statusBusy != 0:
		return ErrBusy
	case status&statusMemory != 0:
		return ErrMemory
	case status&statusALU != 0:
		return ErrALU
	}
	return nil
}

// Dev is one part on a bus. It is for one goroutine.
type Dev struct {
	Bus   i2c.Bus
	Addr  uint16
	Range Range
	Sleep func(time.Duration)

	frame Frame
}

// Read measures once: the mean of four conversions, in 17 to 29 ms.
func (d *Dev) Read() (Sample, error) {
	if err := d.Start(); err != nil {
		return Sample{}, err
	}
	d.Sleep(Conversion)
	return d.Fetch()
}

// Start lets the part measure; its answer is there to be fetched after Conversion.
func (d *Dev) Start() error { return d.Bus.Tx(d.Addr, measure[:], nil) }

// Fetch reads what was measured, and waits for it a little longer where it must.
func (d *Dev) Fetch() (Sample, error) {
	for try := 1; ; try++ {
		if err := d.Bus.Tx(d.Addr, nil, d.frame[:]); err != nil {
			return Sample{}, err
		}
		s, err := d.Range.Decode(&d.frame)
		if err != ErrBusy || try > busyTries {
			return s, err
		}
		d.Sleep(retryBusy)
	}
}
