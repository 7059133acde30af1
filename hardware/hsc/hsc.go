// Package hsc reads Honeywell's TruStability HSC and SSC pressure sensors over I²C.
//
// Datasheets: Honeywell 50099148, "TruStability Board Mount Pressure Sensors, HSC Series" and 50099533, "SSC Series", with
// the technical note 008201, "I²C Communications with Honeywell Digital Output Pressure Sensors". Sections are named by
// their titles. Seen of the technical note (issue 3, 2012): sections 1 to 2.3 with figure 2, the form of the answer. The
// four states, the transfer function, the temperature and the spans are those of the Linux driver
// drivers/iio/pressure/hsc030pa.c, which cites the first sheet; noise, accuracy and the time between two results are from memory.
// Only the transfer function "A" (10 % to 90 % of 2^14 counts) is known here.
//
// The part is a membrane: dead-ended, for dusty taps. It measures by itself, about once a millisecond; a read fetches the
// last result. Four different things:
//   - Resolution: a count is span/6554 of a two-sided part, 0.38 Pa of one of ±2.5 kPa. The mean over several reads
//     is finer, as long as its noise moves it.
//   - Noise: about a count.
//   - Zero: within the total error band, before it is zeroed here.
//   - Accuracy: total error band 1 % (HSC) or 2 % (SSC) of the full span over the compensated temperatures, more for
//     ranges below 1 kPa.
//
// Known traps. There is no checksum and no identity. A part that is read faster than it measures answers the same result
// again, marked stale. A read of more than four bytes gives nothing more.
package hsc

import (
	"time"

	"periph.io/x/conn/v3/i2c"
)

// Technical note, "sensor output at significant percentages": transfer function A.
const (
	OutputMin = 1638  // 10 % of 2^14
	OutputMax = 14746 // 90 % of 2^14
)

// edge is the 1 % of the output by which an end of the range may be off.
const edge = (OutputMax - OutputMin) / 100

// renewed is how long a new result takes: about 0.92 ms of update time, with the maker's tolerance (datasheet, "update
// rate" and "response time").
const renewed = 2 * time.Millisecond

// reads is how many results one Read means over, and staleTries how often it waits for a new one.
const (
	reads      = 4
	staleTries = 3
)

// Error is a reason why there is no reading.
type Error string

// Error returns the reason.
func (e Error) Error() string { return string(e) }

// The reasons. A bus that does not answer is none of them: its own error is returned.
const (
	ErrCommand    Error = "the part is in its factory's command mode"
	ErrStale      Error = "the part has no new result after 6 ms"
	ErrDiagnostic Error = "the part reports a fault of its own: a broken bridge, or a memory that is damaged"
	ErrLow        Error = "at the lower end of its range"
	ErrHigh       Error = "at the upper end of its range"
)

// Range is the pressure range of a part, as its order code says.
type Range struct {
	Span     float64 // Pa at full scale
	OneSided bool    // 0..Span; otherwise −Span..Span
}

// Pressure turns counts into Pa: technical note, equation for the pressure,
//
//	p = pmin + (counts − OutputMin)·(pmax − pmin)/(OutputMax − OutputMin)
func (r Range) Pressure(counts float64) float64 {
	low, width := -r.Span, 2*r.Span
	if r.OneSided {
		low, width = 0, r.Span
	}
	return low + (counts-OutputMin)*width/(OutputMax-OutputMin)
}

// Temperature turns the upper eleven bits of the temperature into K: t = counts·200/2047 − 50 in °C.
func Temperature(counts uint16) float64 { return float64(counts)*200/2047 - 50 + 273.15 }

// Frame is what the part answers: two bits of status, fourteen of pressure, eleven of temperature, five of nothing.
type Frame [4]byte

// Sample is one result.
type Sample struct {
	Counts      uint16
	Pressure    float64 // Pa
	Temperature float64 // K, of the part
	NearEnd     bool    // within 1 % of an end of the range
}

// Decode turns a frame into a sample. At and past the ends of the range there is no pressure but ErrLow or ErrHigh; the
// zero of a one-sided part may read up to 1 % below nothing. Counts is filled in with these two errors also.
func (r Range) Decode(f *Frame) (Sample, error) {
	switch f[0] >> 6 { // technical note, "status bits"
	case 1:
		return Sample{}, ErrCommand
	case 2:
		return Sample{}, ErrStale
	case 3:
		return Sample{}, ErrDiagnostic
	}
	s := Sample{Counts: uint16(f[0]&0x3F)<<8 | uint16(f[1])}
	low := uint16(OutputMin)
	if r.OneSided {
		low -= edge
	}
	switch {
	case s.Counts <= low:
		return s, ErrLow
	case s.Counts >= OutputMax:
		return s, ErrHigh
	}
	s.Pressure = r.Pressure(float64(s.Counts))
	s.Temperature = Temperature(uint16(f[2])<<3 | uint16(f[3])>>5)
	s.NearEnd = s.Counts > OutputMax-edge || (!r.OneSided && s.Counts < OutputMin+edge)
	return s, nil
}

// Dev is one part on a bus. It is for one goroutine.
type Dev struct {
	Bus   i2c.Bus
	Addr  uint16
	Range Range
	Sleep func(time.Duration)

	frame Frame
}

// Mean is the mean of some results in a row.
type Mean struct {
	Sum      int32   // of their counts
	Pressure float64 // Pa
	NearEnd  bool
}

// Read takes the mean of four results, in about 8 ms. One that cannot be used ends it.
func (d *Dev) Read() (Mean, error) {
	var m Mean
	for range reads {
		s, err := d.one()
		m.Sum += int32(s.Counts)
		if err != nil {
			return m, err
		}
		m.NearEnd = m.NearEnd || s.NearEnd
		d.Sleep(renewed)
	}
	m.Pressure = d.Range.Pressure(float64(m.Sum) / reads)
	return m, nil
}

// one waits for a new result.
func (d *Dev) one() (Sample, error) {
	for try := 1; ; try++ {
		if err := d.Bus.Tx(d.Addr, nil, d.frame[:]); err != nil {
			return Sample{}, err
		}
		s, err := d.Range.Decode(&d.frame)
		if err != ErrStale || try > staleTries {
			return s, err
		}
		d.Sleep(renewed)
	}
}
