// Package sdp8xx reads Sensirion's SDP8xx differential pressure sensors over I²C, and the SDP3x, which speak alike.
//
// Datasheet: Sensirion, "Datasheet SDP8xx-Digital", version 1.1, April 2019. Its sections are named here by their titles,
// since their numbers moved between versions. Seen were "Sleep Mode" and "Read Product Identifier" of the preliminary version
// (5.3.5 and 5.3.6), and the maker's checksum in the sheets of its other parts, with the same example. An open driver that
// cites version 1.1 has the same addresses, commands, times (8 ms and 12 ms after the start, half a millisecond between two
// reads, 25 ms after power-up), product numbers and scale of the temperature. Noise, zero and accuracy are from memory;
// sellers print 0.08 Pa and 3 % of the 125 Pa part.
//
// The part is thermal: a small flow through it carries heat from one side of a heater to the other. It has no drift of
// zero worth the name, and it breathes, so that dust and moisture reach it and a long tube lowers its reading: it is
// for velocity pressure or clean taps only. Four different things:
//   - Resolution: a count is 1/60 Pa (500 Pa parts) or 1/240 Pa (125 Pa parts).
//   - Noise: about 0.05 Pa near zero, less with the averaging that is used here.
//   - Zero: 0.1 Pa (500 Pa parts), with no drift that the sheet would state.
//   - Accuracy: 3 % of the reading.
//
// A known trap: the output is right at the pressure at which the part was calibrated, 966 mbar. See Correction.
package sdp8xx

import (
	"math"
	"time"

	"periph.io/x/conn/v3/i2c"
)

// The addresses: SDP800 and SDP810 answer at the first, SDP801 and SDP811 at the second. They are fixed.
const (
	Address    uint16 = 0x25
	AddressAlt uint16 = 0x26
)

// Section "Commands", high byte first. None of them stretches the clock: the triggered commands that do are not used,
// since they hang older boards. The soft reset is a general call to all chips on the bus, and is not used either.
var (
	cmdStart   = [2]byte{0x36, 0x15} // continuous, compensated for differential pressure, average until read
	cmdStop    = [2]byte{0x3F, 0xF9}
	cmdIDFirst = [2]byte{0x36, 0x7C} // the two halves of "read product identifier"
	cmdIDThen  = [2]byte{0xE1, 0x02}
)

// Sections "Stop" and "Start Continuous Measurement": times to wait.
const (
	afterStop  = time.Millisecond      // 500 µs until idle
	afterStart = 20 * time.Millisecond // 8 ms until the first result, and 12 ms until the part has settled
)

// calibrated is the absolute pressure in Pa at which the parts are calibrated.
const calibrated = 96600

// fullScale is the count at the end of the range of every part of the family: 500 Pa × 60 and 125 Pa × 240.
const fullScale = 30000

// nearEnd is from where on a count is close to an end of the range: the sheet's accuracy of 3 % before it.
const nearEnd = fullScale * 97 / 100

// Error is a reason why there is no reading.
type Error string

// Error returns the reason.
func (e Error) Error() string { return string(e) }

// The reasons. A bus that does not answer is none of them: its own error is returned.
const (
	ErrCRC     Error = "a checksum is wrong: bytes were damaged on the wire"
	ErrScale   Error = "the scale factor is none of 60 and 240 counts per Pa"
	ErrLow     Error = "at the lower end of its range"
	ErrHigh    Error = "at the upper end of its range"
	ErrProduct Error = "the product number is not of the family that the shop file names"
	ErrRange   Error = "the part's range is another than the shop file says"
)

// CRC is the checksum of the section "Checksum Calculation" over one word: CRC-8, polynomial x⁸+x⁵+x⁴+1 (0x31), first
// value 0xFF, not reflected. The sheet's example is CRC(0xBE, 0xEF) = 0x92.
func CRC(high, low byte) byte {
	return crcTable[crcTable[0xFF^high]^low]
}

var crcTable = func() (t [256]byte) {
	for i := range t {
		c := byte(i)
		for range 8 {
			if c&0x80 != 0 {
				c = c<<1 ^ 0x31
			} else {
				c <<= 1
			}
		}
		t[i] = c
	}
	return t
}()

// Correction is the factor on what the part reads in its differential pressure mode, at an absolute ambient pressure in
// Pa. The part feels mass flow, so that denser air reads high:
//
//	Δp = Δp(read) · 966 mbar / p
//
// Source: the altitude correction in the datasheets of the maker's SDP600 and SDPx108 families, from memory for the
// formula; open drivers of the SDP610, which quote it, and of the SDP8xx apply the same. At sea level it is 0.953:
// leaving it out is an error of 5 %. (In the mass flow mode, which is not used here, a reading stands for mass flow in a
// bypass and needs no such factor.) A pressure at which nobody works, under 30 or over 120 kPa or not a number, is taken
// to be unknown and gives the factor of the standard atmosphere at sea level.
func Correction(ambient float64) float64 {
	if !(ambient >= 30e3 && ambient <= 120e3) {
		ambient = 101325
	}
	return calibrated / ambient
}

// Frame is what the chip answers in continuous mode: three words, each followed by its checksum; the difference of
// pressure, the temperature, and the scale factor.
type Frame [9]byte

// Sample is one reading.
type Sample struct {
	Counts      int16
	Pressure    float64 // Pa as the part reads it: without Correction
	Temperature float64 // K, of the chip
	Span        float64 // Pa at full scale, as the frame's scale factor says: 500 or 125
	NearEnd     bool    // within 3 % of an end of the range
}

// Decode turns a frame into a sample, by the scale factor that the frame itself holds. At and past ±30 000 counts there
// is no pressure but ErrLow or ErrHigh. Counts is filled in with these two errors also.
func Decode(f *Frame) (Sample, error) {
	if CRC(f[0], f[1]) != f[2] || CRC(f[3], f[4]) != f[5] || CRC(f[6], f[7]) != f[8] {
		return Sample{}, ErrCRC
	}
	scale := word(f[6], f[7])
	if scale != 60 && scale != 240 {
		return Sample{}, ErrScale
	}
	s := Sample{Counts: word(f[0], f[1]), Span: fullScale / float64(scale)}
	switch {
	case s.Counts >= fullScale:
		return s, ErrHigh
	case s.Counts <= -fullScale:
		return s, ErrLow
	}
	s.Pressure = float64(s.Counts) / float64(scale)
	s.Temperature = float64(word(f[3], f[4]))/200 + 273.15 // 200 counts per °C
	s.NearEnd = s.Counts > nearEnd || s.Counts < -nearEnd
	return s, nil
}

func word(high, low byte) int16 { return int16(uint16(high)<<8 | uint16(low)) }

// Product is the number that a part gives of itself. Its last byte is a revision, which the sheet reserves to change.
type Product uint32

// Family is the first half of a product number.
type Family uint16

// The families that speak alike. The SDP3x's numbers are from open drivers: 0x030101 is an SDP31 (500 Pa), 0x030102 an
// SDP32 (125 Pa).
const (
	SDP8xx Family = 0x0302
	SDP3x  Family = 0x0301
)

// Known tells whether the product is of the SDP8xx family.
func (p Product) Known() bool { return p.Of(SDP8xx) }

// Of tells whether the product is of a family.
func (p Product) Of(f Family) bool { return p>>16 == Product(f) }

// DecodeProduct takes the first six bytes of the answer to the product identifier command.
func DecodeProduct(b *[18]byte) (Product, error) {
	for i := 0; i < len(b); i += 3 {
		if CRC(b[i], b[i+1]) != b[i+2] {
			return 0, ErrCRC
		}
	}
	return Product(uint32(b[0])<<24 | uint32(b[1])<<16 | uint32(b[3])<<8 | uint32(b[4])), nil
}

// Dev is one part on a bus. It is for one goroutine.
type Dev struct {
	Bus   i2c.Bus
	Addr  uint16
	Kind  Family  // 0: SDP8xx
	Span  float64 // Pa as the shop file says, to compare with what the part says; 0: whatever it says
	Sleep func(time.Duration)

	frame Frame
	id    [18]byte
}

// Start sets the part up from any state: idle after power-up, or measuring since before this program started. Only an
// idle part tells its product number, so the part is stopped first; that command need not be acknowledged by a part that
// is idle already, so its error says nothing.
func (d *Dev) Start() error {
	_ = d.Bus.Tx(d.Addr, cmdStop[:], nil)
	d.Sleep(afterStop)
	if err := d.Bus.Tx(d.Addr, cmdIDFirst[:], nil); err != nil {
		return err
	}
	if err := d.Bus.Tx(d.Addr, cmdIDThen[:], nil); err != nil {
		return err
	}
	if err := d.Bus.Tx(d.Addr, nil, d.id[:]); err != nil {
		return err
	}
	p, err := DecodeProduct(&d.id)
	if err != nil {
		return err
	}
	if !p.Of(d.family()) {
		return ErrProduct
	}
	if err := d.Bus.Tx(d.Addr, cmdStart[:], nil); err != nil {
		return err
	}
	d.Sleep(afterStart)
	return nil
}

func (d *Dev) family() Family {
	if d.Kind == 0 {
		return SDP8xx
	}
	return d.Kind
}

// Read takes the mean of everything that the part has measured since it was read last. It allocates nothing. Between
// two reads there must be half a millisecond, or the part does not acknowledge.
func (d *Dev) Read() (Sample, error) {
	if err := d.Bus.Tx(d.Addr, nil, d.frame[:]); err != nil {
		return Sample{}, err
	}
	s, err := Decode(&d.frame)
	if err == nil && d.Span != 0 && math.Abs(d.Span-s.Span) > 0.01*s.Span {
		return Sample{Counts: s.Counts}, ErrRange
	}
	return s, err
}

// Stop leaves the part idle, so that it does not heat its tubes for nobody.
func (d *Dev) Stop() { _ = d.Bus.Tx(d.Addr, cmdStop[:], nil) }
