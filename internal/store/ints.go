package store

import (
	"encoding/binary"
	"errors"
)

// A column of integers is
//
//	mode u8 | unit uvarint | first varint | body
//
// The differences of neighbours are whole multiples of unit. Mode runs suits even spacing and values that seldom
// change: (difference/unit varint, repeats-1 uvarint) until the column is full. Mode rice suits noise: its body is
// (bytes uvarint, bit stream), groups of 128 values, each with a header of 2 bits for the predictor and 6 for the Rice
// parameter, then the residuals. Arithmetic wraps around, so every int64 round-trips.
const (
	modeRuns = 0
	modeRice = 1

	riceGroup   = 128
	riceZero    = 63 // Rice parameter that says: every residual of the group is 0, and takes no bits
	riceMax     = 62
	riceEscape  = 32 // so many ones announce 64 plain bits
	shortWindow = 4
	longWindow  = 32
)

var errShort = errors.New("ends early")

// coder holds the working memory of the codecs; it is not for concurrent use.
type coder struct {
	ints  []int64
	words []int64
	tmp   []byte
	res   [4][riceGroup]uint64
}

func zigzag(v int64) uint64   { return uint64(v<<1) ^ uint64(v>>63) }
func unzigzag(u uint64) int64 { return int64(u>>1) ^ -int64(u&1) }

// appendInts appends the column v, which may not be empty.
func (c *coder) appendInts(dst []byte, v []int64) []byte {
	unit, runs := commonUnit(v)
	head := func(mode byte) {
		dst = append(dst, mode)
		dst = binary.AppendUvarint(dst, uint64(unit))
		dst = binary.AppendVarint(dst, v[0])
	}
	start := len(dst)
	if runs*riceGroup/2 <= len(v) {
		head(modeRuns)
		return appendRuns(dst, v, unit)
	}
	head(modeRice)
	c.tmp = c.rice(c.tmp[:0], v, unit)
	dst = binary.AppendUvarint(dst, uint64(len(c.tmp)))
	dst = append(dst, c.tmp...)
	if 2*runs >= len(dst)-start {
		return dst
	}
	rice := len(dst)
	head(modeRuns)
	dst = appendRuns(dst, v, unit)
	if len(dst)-rice < rice-start {
		copy(dst[start:], dst[rice:])
		return dst[:start+len(dst)-rice]
	}
	return dst[:rice]
}

// commonUnit returns the greatest common divisor of the differences (1 if they are all 0) and how many runs of equal
// differences there are.
func commonUnit(v []int64) (unit int64, runs int) {
	var g, last uint64
	for i := 1; i < len(v); i++ {
		d := v[i] - v[i-1]
		if u := uint64(d); runs == 0 || u != last {
			runs++
			last = u
			if g != 1 {
				g = gcd(g, magnitude(d))
			}
		}
	}
	if g == 0 || g > 1<<62 {
		g = 1
	}
	return int64(g), runs
}

func magnitude(d int64) uint64 {
	if d < 0 {
		return -uint64(d)
	}
	return uint64(d)
}

func gcd(a, b uint64) uint64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

func appendRuns(dst []byte, v []int64, unit int64) []byte {
	for i := 1; i < len(v); {
		d, n := v[i]-v[i-1], 1
		for i+n < len(v) && v[i+n]-v[i+n-1] == d {
			n++
		}
		dst = binary.AppendVarint(dst, d/unit)
		dst = binary.AppendUvarint(dst, uint64(n-1))
		i += n
	}
	return dst
}

// readInts fills dst, whose length the caller knows, and returns what follows the column.
func readInts(b []byte, dst []int64) (rest []byte, err error) {
	if len(b) == 0 || len(dst) == 0 {
		return nil, errShort
	}
	mode := b[0]
	unit, n := binary.Uvarint(b[1:])
	if n <= 0 || unit == 0 || unit > 1<<62 {
		return nil, errors.New("has no valid unit")
	}
	b = b[1+n:]
	first, n := binary.Varint(b)
	if n <= 0 {
		return nil, errShort
	}
	b = b[n:]
	dst[0] = first
	switch mode {
	case modeRuns:
		return readRuns(b, dst, int64(unit))
	case modeRice:
		return readRice(b, dst, int64(unit))
	}
	return nil, errors.New("has an unknown coding")
}

func readRuns(b []byte, dst []int64, unit int64) ([]byte, error) {
	for i := 1; i < len(dst); {
		d, n := binary.Varint(b)
		if n <= 0 {
			return nil, errShort
		}
		b = b[n:]
		more, n := binary.Uvarint(b)
		if n <= 0 {
			return nil, errShort
		}
		b = b[n:]
		if more >= uint64(len(dst)-i) {
			return nil, errors.New("has a run that is longer than the column")
		}
		d *= unit
		for end := i + int(more); i <= end; i++ {
			dst[i] = dst[i-1] + d
		}
	}
	return b, nil
}
