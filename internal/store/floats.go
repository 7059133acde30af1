package store

import (
	"encoding/binary"
	"errors"
	"math"
)

// A column of floating-point numbers is
//
//	mode u8 | body
//
// Every number comes back bit for bit. Mode scaled is for what a sensor counts: value = code/divisor, with
// (divisor uvarint, exceptions, codes as integers). Mode lattice is for counts with an offset or a factor that is no
// whole divisor: value = origin + code×step, moved by some units in the last place, the same for each occurrence of a
// code: (origin f64, step f64, exceptions, codes, then the units of each code in the order in which they first occur).
// Mode xor is for everything else: each number XOR the one before it.
// Exceptions are (count uvarint, then (gap uvarint, f64) each): numbers that fit no code, such as "not known".
const (
	modeScaled  = 0
	modeLattice = 1
	modeXOR     = 2
)

// divisors are tried in this order. The tenths are for decimal numbers, the sixties for the counts per pascal of
// differential-pressure chips (60, 240, 1200 and so on) and for means over whole numbers of them.
var divisors = [...]float64{1, 10, 100, 60, 240, 1000, 120, 20, 600, 1200, 2400, 1e4, 6000, 1e5, 1e6}

const (
	maxCode      = 1 << 50 // so that code/divisor and its inverse are exact in float64
	maxException = 16      // one number in so many may be an exception
	maxULP       = 64      // further from its lattice point than this, a number is an exception
)

func appendFloat(dst []byte, f float64) []byte {
	return binary.LittleEndian.AppendUint64(dst, math.Float64bits(f))
}

func floatAt(b []byte) float64 { return math.Float64frombits(binary.LittleEndian.Uint64(b)) }

// appendFloats appends the column v. hint is the divisor that served last time, 0 for none; it returns the one to
// hand in next.
func (c *coder) appendFloats(dst []byte, v []float64, hint float64) ([]byte, float64) {
	if hint != 0 && fits(v, hint) {
		return c.appendScaled(dst, v, hint), hint
	}
	for _, d := range divisors {
		if d != hint && fits(v, d) {
			return c.appendScaled(dst, v, d), d
		}
	}
	if l, ok := findLattice(v); ok {
		return c.appendLattice(dst, v, l), 0
	}
	return appendXOR(append(dst, modeXOR), v), 0
}

// scaledCode returns the code of v at divisor d, and whether it gives v back.
func scaledCode(v, d float64) (int64, bool) {
	k := math.Round(v * d)
	if !(math.Abs(k) < maxCode) {
		return 0, false
	}
	n := int64(k)
	return n, math.Float64bits(float64(n)/d) == math.Float64bits(v) // −0 fails here
}

func fits(v []float64, d float64) bool {
	bad := 0
	for _, x := range v {
		if _, ok := scaledCode(x, d); !ok {
			if bad++; bad*maxException > len(v) {
				return false
			}
		}
	}
	return true
}

func (c *coder) appendScaled(dst []byte, v []float64, d float64) []byte {
	dst = append(dst, modeScaled)
	dst = binary.AppendUvarint(dst, uint64(d))
	k := c.codes(len(v))
	dst = appendCodes(dst, v, k, func(x float64) (int64, bool) { return scaledCode(x, d) })
	return c.appendInts(dst, k)
}

func (c *coder) codes(n int) []int64 {
	if cap(c.ints) < n {
		c.ints = make([]int64, n)
	}
	return c.ints[:n]
}

// appendCodes fills k and appends the exceptions, whose code repeats the one before.
func appendCodes(dst []byte, v []float64, k []int64, code func(float64) (int64, bool)) []byte {
	var odd []int
	last := int64(0)
	for i, x := range v {
		n, ok := code(x)
		if ok {
			last = n
		} else {
			odd = append(odd, i)
		}
		k[i] = last
	}
	dst = binary.AppendUvarint(dst, uint64(len(odd)))
	at := 0
	for _, i := range odd {
		dst = binary.AppendUvarint(dst, uint64(i-at))
		dst = appendFloat(dst, v[i])
		at = i
	}
	return dst
}

// readFloats fills dst and returns what follows the column.
func readFloats(b []byte, dst []float64) (rest []byte, err error) {
	if len(b) == 0 || len(dst) == 0 {
		return nil, errShort
	}
	mode := b[0]
	b = b[1:]
	switch mode {
	case modeScaled:
		d, n := binary.Uvarint(b)
		if n <= 0 || d == 0 || d >= maxCode {
			return nil, errors.New("has no valid divisor")
		}
		return readScaled(b[n:], dst, float64(d))
	case modeLattice:
		if len(b) < 16 {
			return nil, errShort
		}
		return readLattice(b[16:], dst, lattice{origin: floatAt(b), step: floatAt(b[8:])})
	case modeXOR:
		return readXOR(b, dst)
	}
	return nil, errors.New("has an unknown coding")
}

func readScaled(b []byte, dst []float64, d float64) ([]byte, error) {
	odd, b, err := readExceptions(b, len(dst))
	if err != nil {
		return nil, err
	}
	codes := make([]int64, len(dst))
	if b, err = readInts(b, codes); err != nil {
		return nil, err
	}
	for i, k := range codes {
		dst[i] = float64(k) / d
	}
	odd.put(dst)
	return b, nil
}

// exceptions are numbers that stand beside the codes.
type exceptions struct {
	at []int
	v  []float64
}

func (e exceptions) put(dst []float64) {
	for i, at := range e.at {
		dst[at] = e.v[i]
	}
}

func readExceptions(b []byte, limit int) (e exceptions, rest []byte, err error) {
	count, n := binary.Uvarint(b)
	if n <= 0 || count > uint64(limit) {
		return e, nil, errors.New("has more exceptions than numbers")
	}
	b = b[n:]
	at := uint64(0)
	for range count {
		gap, n := binary.Uvarint(b)
		if n <= 0 || len(b) < n+8 {
			return e, nil, errShort
		}
		at += gap
		if gap > uint64(limit) || at >= uint64(limit) {
			return e, nil, errors.New("has an exception outside the column")
		}
		e.at, e.v = append(e.at, int(at)), append(e.v, floatAt(b[n:]))
		b = b[n+8:]
	}
	return e, b, nil
}
