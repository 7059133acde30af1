package rig

import (
	"math"
	"time"

	"ductward/internal/shop"
)

// sdp8xx is a simulated Sensirion SDP8xx. Datasheet: Sensirion, "Datasheet SDP8xx-Digital", from memory, and compared
// with open drivers: 16-bit commands; in continuous mode nine bytes a read (difference of pressure, temperature, scale
// factor, a CRC-8 after each word); a part that is measuring acknowledges no command but stop, an idle one no read.
//
// The part feels mass flow and is calibrated at 966 mbar: it reads Δp·p/966 mbar at the ambient pressure p.
type sdp8xx struct {
	addr    uint16
	scale   float64 // counts per Pa
	id      uint32
	unaware bool // it reads the pressure as it is, in air of whatever density
	probe   probe
	faults  faults

	measuring bool
	idStep    int // commands of the identifier sequence seen: 2 lets it be read
	ready     time.Duration
	frame     [9]byte
}

const (
	sdpStart        = 0x3615 // continuous, differential pressure, average till read
	sdpStartPlain   = 0x361E // continuous, differential pressure, no averaging
	sdpStop         = 0x3FF9
	sdpIDFirst      = 0x367C
	sdpIDThen       = 0xE102
	sdpFirstResult  = 8 * time.Millisecond
	sdpNextResult   = 500 * time.Microsecond
	sdpCalibrated   = 96600.0 // Pa
	sdpProduct500   = 0x03020A01
	sdpProduct125   = 0x03020B01
	sdp3xProduct500 = 0x03010101
	sdp3xProduct125 = 0x03010201
)

func newSDP8xx(f shop.Source, p probe) *sdp8xx {
	d := &sdp8xx{addr: f.Address, scale: 60, id: sdpProduct500, probe: p}
	if f.Span > 0 && f.Span < 200 {
		d.scale, d.id = 240, sdpProduct125
	}
	return d
}

// newSDP3x makes an SDP31 or SDP32, which speak alike.
func newSDP3x(f shop.Source, p probe) *sdp8xx {
	d := newSDP8xx(f, p)
	d.id = sdp3xProduct500
	if d.scale == 240 {
		d.id = sdp3xProduct125
	}
	return d
}

func (d *sdp8xx) address() uint16 { return d.addr }

func (d *sdp8xx) restart(now time.Duration) { d.probe.last, d.ready = now, now }

// write takes a command.
func (d *sdp8xx) write(now time.Duration, _ bool, w []byte) error {
	if d.faults.unplugged || len(w) != 2 {
		return errNACK
	}
	command := uint16(w[0])<<8 | uint16(w[1])
	if d.measuring != (command == sdpStop) {
		return errNACK
	}
	step := 0
	switch command {
	case sdpStop:
		d.measuring = false
	case sdpStart, sdpStartPlain:
		d.measuring, d.ready = true, now+sdpFirstResult
	case sdpIDFirst:
		step = 1
	case sdpIDThen:
		if d.idStep == 1 {
			step = 2
		}
	default:
		return errNACK
	}
	d.idStep = step
	return nil
}

// read answers a measurement or the identifier.
func (d *sdp8xx) read(now time.Duration, instant bool, r []byte) error {
	if d.faults.unplugged {
		return errNACK
	}
	for i := range r {
		r[i] = 0xFF
	}
	if d.idStep == 2 {
		d.idStep = 0
		serial := [...]uint16{0, 0, 0x1D07, uint16(d.addr)}
		id := words(uint16(d.id>>16), uint16(d.id), serial[0], serial[1], serial[2], serial[3])
		copy(r, id[:])
		return nil
	}
	if !d.measuring || !instant && now < d.ready {
		return errNACK
	}
	d.ready = now + sdpNextResult
	if !d.faults.stuck {
		d.measure(now)
	}
	copy(r, d.frame[:])
	if d.faults.badCRC && len(r) > 2 {
		r[2] ^= 0x5A
	}
	return nil
}

// measure makes the next frame.
func (d *sdp8xx) measure(now time.Duration) {
	w := d.probe.plant.Air()
	pa := d.probe.sample(now)
	if !d.unaware {
		pa *= w.Pressure / sdpCalibrated
	}
	if d.faults.saturated {
		pa = 1e6
	}
	counts := int16(math.Round(math.Min(math.MaxInt16, math.Max(math.MinInt16, pa*d.scale))))
	t := int16(math.Round((w.Temperature - 273.15) * 200))
	put(d.frame[0:3], uint16(counts))
	put(d.frame[3:6], uint16(t))
	put(d.frame[6:9], uint16(d.scale))
}

// fail breaks the part.
func (d *sdp8xx) fail(f fault) error { return d.faults.set(f) }

// mend makes it whole; a part that comes back from being unplugged is idle.
func (d *sdp8xx) mend() {
	if d.faults.unplugged {
		d.measuring, d.idStep = false, 0
	}
	d.faults = faults{}
}

// put writes a word and its checksum.
func put(b []byte, word uint16) {
	b[0], b[1] = byte(word>>8), byte(word)
	b[2] = crc(b[0], b[1])
}

// words returns six words with their checksums.
func words(ws ...uint16) (out [18]byte) {
	for i, w := range ws {
		put(out[3*i:3*i+3], w)
	}
	return out
}

// crc returns the checksum of a word: CRC-8, polynomial 0x31, first value 0xFF, high bit first.
func crc(high, low byte) byte {
	c := byte(0xFF)
	for _, b := range [2]byte{high, low} {
		c ^= b
		for range 8 {
			carry := c & 0x80
			c <<= 1
			if carry != 0 {
				c ^= 0x31
			}
		}
	}
	return c
}
