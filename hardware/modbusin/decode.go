// Package modbusin reads transmitters and drives over Modbus: RTU on a serial line, or TCP.
//
// Standard: "MODBUS Application Protocol Specification V1.1b3" (functions 1 to 4, sections 6.1 to 6.4) and "MODBUS over
// Serial Line Specification and Implementation Guide V1.02" (even parity is its default, section 2.2), from memory; framing,
// checksums and time-outs are the library's, github.com/simonvetter/modbus. Registers are counted from 0, as they go over
// the wire: the register that a manual calls 30001 or 40001 is 0.
//
// A value of 32 bits is two registers. The standard does not say which comes first, and makers differ; nor does it know
// floating point, which is sent as IEEE 754 all the same. Nothing is ever written.
package modbusin

import (
	"fmt"
	"math"
)

// Format is how a number lies in registers.
type Format int

// The formats.
const (
	Int16 Format = iota
	Uint16
	Int32
	Uint32
	Float32
)

// Registers is how many registers a format takes.
func (f Format) Registers() uint16 {
	if f >= Int32 {
		return 2
	}
	return 1
}

// Decode returns the number in registers, which must be as many as the format takes. lowFirst says that the lower half
// of 32 bits comes first.
func Decode(words []uint16, f Format, lowFirst bool) (float64, error) {
	if len(words) != int(f.Registers()) {
		return 0, fmt.Errorf("%d registers came, where the number takes %d", len(words), f.Registers())
	}
	if f.Registers() == 1 {
		if f == Int16 {
			return float64(int16(words[0])), nil
		}
		return float64(words[0]), nil
	}
	high, low := words[0], words[1]
	if lowFirst {
		high, low = low, high
	}
	bits := uint32(high)<<16 | uint32(low)
	switch f {
	case Int32:
		return float64(int32(bits)), nil
	case Uint32:
		return float64(bits), nil
	}
	v := float64(math.Float32frombits(bits))
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%w: 0x%08X", ErrNoNumber, bits)
	}
	return v, nil
}

// Encode is the inverse of Decode, for whoever stands in for a transmitter. A number that does not fit is cut to the
// nearest one that does.
func Encode(v float64, f Format, lowFirst bool) []uint16 {
	var bits uint32
	switch f {
	case Int16:
		return []uint16{uint16(int16(clip(v, math.MinInt16, math.MaxInt16)))}
	case Uint16:
		return []uint16{uint16(clip(v, 0, math.MaxUint16))}
	case Int32:
		bits = uint32(int32(clip(v, math.MinInt32, math.MaxInt32)))
	case Uint32:
		bits = uint32(clip(v, 0, math.MaxUint32))
	default:
		bits = math.Float32bits(float32(v))
	}
	if lowFirst {
		return []uint16{uint16(bits), uint16(bits >> 16)}
	}
	return []uint16{uint16(bits >> 16), uint16(bits)}
}

func clip(v, low, high float64) float64 { return math.Round(math.Min(high, math.Max(low, v))) }
