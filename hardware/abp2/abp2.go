// Package abp2 reads Honeywell's ABP2 board-mount pressure sensors over I²C.
//
// Datasheet: Honeywell, "ABP2 Series Board Mount Pressure Sensors", 32350268, issue D. Section and table names below
// are those of that sheet, from memory. Seen of it: its first page (some 200 results a second, a total error band of 1.5 %
// of the span at best). The command, the wait, the bits of the status byte, the limits of the transfer function, the
// temperature and the spans are the same in the Linux kernel's driver (drivers/iio/pressure/abp2030pa.c), which cites the sheet.
//
// The part is a piezoresistive membrane, dead-ended, so that dust does not stream through it. Four different things:
//   - Resolution: a count is span/13 421 773, that is 0.0004 Pa of a ±2.5 kPa part. It is no measure of anything else.
//   - Noise: hundreds of counts, so that two readings in a row are practically never the same count.
//   - Zero: may be off by the whole error band and moves with temperature and mounting; it is measured whenever the
//     fan has stood long enough, not here.
//   - Accuracy: the total error band is 1.5 % of the span, offset, sensitivity and temperature together.
//
// Known traps. There is no checksum: a damaged byte is a wrong pressure. The chip has no command that resets it and no
// identity to ask for: whatever answers at its address with a good status is taken for one. After a disturbed supply a
// part may latch up (the kernel driver's comments tell of it): it answers with a status that it should not have, or with
// a good status and pressure counts of 0, which is 12.5 % of the span below its minimum and no pressure at all. The code of the sheet's I²C example shifts a signed type and so fails for bytes over
// 0x7F; the counts are unsigned.
package abp2

import (
	"time"

	"periph.io/x/conn/v3/i2c"
)

// DefaultAddress is the address of a part whose order code ends in the usual "2" (I²C, address 0x28). Others of the
// family answer at 0x08, 0x18, 0x38, 0x48, 0x58, 0x68 and 0x78.
const DefaultAddress uint16 = 0x28

// Section "I²C communications", output measurement command: three bytes, then wait 5 ms or poll the busy bit.
var measure = [3]byte{0xAA, 0x00, 0x00}

// Conversion is how long the chip measures after the command.
const Conversion = 5 * time.Millisecond

// The busy bit is looked at again a few times, since the oscillator of the chip is only so good.
const (
	retryBusy = 2 * time.Millisecond
	busyTries = 4
)

// Table "transfer function limits": the output runs from 10 % to 90 % of 2^24 counts.
const (
	OutputMin = 1677722  // 10 % of 2^24: the lower end of the range
	OutputMax = 15099494 // 90 % of 2^24: the upper end of the range
)

// errorBand is the total error band, 1.5 % of the span, in counts. The zero of a one-sided part lies at its lower end
// and may be off by as much, so a count so far below the end is still a pressure of nothing.
const errorBand = (OutputMax - OutputMin) * 15 / 1000

// Table "status byte".
const (
	statusPower     = 0x40 // the chip is powered: always set
	statusBusy      = 0x20 // a conversion runs
	statusIntegrity = 0x04 // the checksum of the chip's memory was wrong at power-up
	statusMath      = 0x01 // the chip's arithmetic saturated
)

// Error is a reason why there is no reading.
type Error string

// Error returns the reason.
func (e Error) Error() string { return string(e) }

// The reasons. A bus that does not answer is none of them: its own error is returned.
const (
	ErrBusy      Error = "the chip still converts after 13 ms"
	ErrStatus    Error = "the status byte is none that the chip has: it has latched up, or another part sits at its address"
	ErrIntegrity Error = "the chip reports that its memory is damaged"
	ErrMath      Error = "the chip's arithmetic saturated: the pressure is far out of its range"
	ErrLatched   Error = "good status with pressure counts of 0: the chip has latched up"
	ErrLow       Error = "at the lower end of its range"
	ErrHigh      Error = "at the upper end of its range"
)

// Range is the pressure range of a part, as its order code says.
type Range struct {
	Span     float64 // Pa at full scale
	OneSided bool    // 0..Span; otherwise −Span..Span
}

// Pressure turns counts into Pa. Table "transfer function", sensor output at calculated pressure:
//
//	p = pmin + (counts − OutputMin)·(pmax − pmin)/(OutputMax − OutputMin)
//
// It extends in a straight line past both ends.
func (r Range) Pressure(counts uint32) float64 {
	low, width := -r.Span, 2*r.Span
	if r.OneSided {
		low, width = 0, r.Span
	}
	return low + (float64(counts)-OutputMin)*width/(OutputMax-OutputMin)
}

// Temperature turns counts into K: the sheet's t = counts·200/(2^24−1) − 50 in °C. It is the chip's own temperature.
func Temperature(counts uint32) float64 {
	return float64(counts)*200/(1<<24-1) - 50 + 273.15
}

// Frame is what the chip answers: status, three bytes of pressure, three of temperature, high byte first.
type Frame [7]byte

// Sample is one reading.
type Sample struct {
	Counts      uint32  // of the pressure, for whoever looks for a part that is stuck
	Pressure    float64 // Pa
	Temperature float64 // K, of the chip
	NearEnd     bool    // within the error band of an end of the range, so its error may be larger than stated
}

// Decode turns a frame into a sample. At and past the ends of the range there is no pressure but ErrLow or ErrHigh:
// a count that clips and one that is just there cannot be told apart. The one exception is the zero of a one-sided
// part, which may read up to 1.5 % of the span below nothing. Counts is filled in even with an error.
func (r Range) Decode(f *Frame) (Sample, error) {
	s := Sample{Counts: uint32(f[1])<<16 | uint32(f[2])<<8 | uint32(f[3])}
	if err := checkStatus(f[0]); err != nil {
		return s, err
	}
	low := uint32(OutputMin)
	if r.OneSided {
		low -= errorBand
	}
	switch {
	case s.Counts == 0:
		return s, ErrLatched
	case s.Counts <= low:
		return s, ErrLow
	case s.Counts >= OutputMax:
		return s, ErrHigh
	}
	s.Pressure = r.Pressure(s.Counts)
	s.Temperature = Temperature(uint32(f[4])<<16 | uint32(f[5])<<8 | uint32(f[6]))
	s.NearEnd = s.Counts > OutputMax-errorBand || (!r.OneSided && s.Counts < OutputMin+errorBand)
	return s, nil
}

func checkStatus(status byte) error {
	switch {
	case status == statusPower:
		return nil
	case status&^(statusBusy|statusIntegrity|statusMath) != statusPower:
		return ErrStatus
	case status&statusBusy != 0:
		return ErrBusy
	case status&statusIntegrity != 0:
		return ErrIntegrity
	default:
		return ErrMath
	}
}

// Dev is one part on a bus. It is for one goroutine.
type Dev struct {
	Bus   i2c.Bus
	Addr  uint16
	Range Range
	Sleep func(time.Duration)

	frame Frame
}

// Read measures once: command, wait, answer. It takes 5 to 13 ms and allocates nothing. A bus that does not answer
// ends it with the bus's error.
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
