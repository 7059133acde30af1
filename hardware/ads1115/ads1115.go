// Package ads1115 reads Texas Instruments' ADS1115, an analog-to-digital converter of four inputs and sixteen bits, over
// I²C.
//
// Datasheet: Texas Instruments SBAS444E, "ADS111x Ultra-Small, Low-Power, I²C-Compatible, 860-SPS, 16-Bit ADCs". Seen: the
// table of the config register in revision D (section 9.6.3), and of the ADS1115-Q1 (SBAS563) the addresses of the registers,
// the data format and single-shot mode. The addresses, 0x48 to 0x4B, the tolerance of the oscillator, noise and accuracy are
// from memory.
//
// Four different things, at the full scale of ±4.096 V:
//   - Resolution: a count is 125 µV, which at 150 Ω is 0.8 µA, or 0.13 Pa of a transmitter of 2.5 kPa.
//   - Noise: about a count at the 32 samples a second that are asked for here.
//   - Zero: 3 counts.
//   - Accuracy: 0.15 % of the gain, plus that of the burden.
//
// The library that knows this part, periph's devices/v3/ads1x15, waits for the nominal time of a conversion and then
// reads. The oscillator may be slow by 10 % (section "Oscillator"), and what is read then is the conversion before, of
// another input. So the ready bit is looked at here, and that the config register still says what was asked for.
package ads1115

import (
	"fmt"
	"time"

	"periph.io/x/conn/v3/i2c"
)

// Inputs is how many inputs against ground there are.
const Inputs = 4

// The registers and the bits of the config register (section 9.6.3 of revision D).
const (
	regConversion = 0x00
	regConfig     = 0x01

	osStart  = 1 << 15 // written: start; read: no conversion runs
	muxShift = 12      // 100 to 111: input 0 to 3 against ground
	muxFirst = 4
	pgaShift = 9
	single   = 1 << 8
	rate32   = 2 << 5
	noAlert  = 3
)

// A conversion takes a thirty-second of a second, 10 % more or less.
const (
	conversion = 28 * time.Millisecond
	retryReady = 2 * time.Millisecond
	readyTries = 6
)

// FullScales are the ranges that the gain can be set to, in V, from the widest, in the order of the register's values.
var FullScales = [...]float64{6.144, 4.096, 2.048, 1.024, 0.512, 0.256}

// FullScaleFor returns the index of the narrowest range that holds a voltage; the widest where none does.
func FullScaleFor(volts float64) int {
	for i := len(FullScales) - 1; i > 0; i-- {
		if volts < FullScales[i] {
			return i
		}
	}
	return 0
}

// Error is a reason why there is no reading.
type Error string

// Error returns the reason.
func (e Error) Error() string { return string(e) }

// The reasons. A bus that does not answer is none of them: its own error is returned.
const (
	ErrBusy    Error = "the converter is not ready after 40 ms"
	ErrConfig  Error = "the converter has forgotten what it was asked for: it lost its supply, or another program uses it"
	ErrClipped Error = "at the end of the converter's range"
)

// Dev is one input of one part. It is for one goroutine, and so are all inputs of a part.
type Dev struct {
	Bus       i2c.Bus
	Addr      uint16
	Input     int // 0 to 3, against ground
	FullScale int // index into FullScales
	Sleep     func(time.Duration)

	out [3]byte
	in  [2]byte
}

// config is what is written to start a conversion of the input.
func (d *Dev) config() uint16 {
	return osStart | uint16(muxFirst+d.Input)<<muxShift | uint16(d.FullScale)<<pgaShift | single | rate32 | noAlert
}

// Volts turns counts into V at a full scale: 2^15 counts are all of it (section "Data Format").
func Volts(counts int16, fullScale int) float64 {
	return float64(counts) * FullScales[fullScale] / (1 << 15)
}

// Read converts once and returns the counts and the voltage, in 28 to 40 ms. At the ends of the range there is no voltage
// but ErrClipped.
func (d *Dev) Read() (counts int16, volts float64, err error) {
	if d.Input < 0 || d.Input >= Inputs || d.FullScale < 0 || d.FullScale >= len(FullScales) {
		return 0, 0, fmt.Errorf("input %d at full scale %d is none that the converter has", d.Input, d.FullScale)
	}
	config := d.config()
	d.out = [3]byte{regConfig, byte(config >> 8), byte(config)}
	if err := d.Bus.Tx(d.Addr, d.out[:], nil); err != nil {
		return 0, 0, err
	}
	d.Sleep(conversion)
	if err := d.ready(config); err != nil {
		return 0, 0, err
	}
	if err := d.register(regConversion); err != nil {
		return 0, 0, err
	}
	counts = int16(uint16(d.in[0])<<8 | uint16(d.in[1]))
	if counts == 1<<15-1 || counts == -1<<15 {
		return counts, 0, ErrClipped
	}
	return counts, Volts(counts, d.FullScale), nil
}

// ready waits until the conversion that was asked for is there.
func (d *Dev) ready(config uint16) error {
	for try := 1; ; try++ {
		if err := d.register(regConfig); err != nil {
			return err
		}
		now := uint16(d.in[0])<<8 | uint16(d.in[1])
		switch {
		case now&^osStart != config&^osStart:
			return ErrConfig
		case now&osStart != 0:
			return nil
		case try == readyTries:
			return ErrBusy
		}
		d.Sleep(retryReady)
	}
}

func (d *Dev) register(r byte) error {
	d.out[0] = r
	return d.Bus.Tx(d.Addr, d.out[:1], d.in[:])
}
