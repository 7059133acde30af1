package store

import (
	"encoding/binary"
	"errors"
	"math"
	"math/bits"
)

// appendXOR writes (bytes uvarint, bits): the first number whole; then for each a 0 if it is the same, else 1, 6 bits
// for the number of leading zeros of the difference, 6 for its length−1, and the difference.
func appendXOR(dst []byte, v []float64) []byte {
	var w bitWriter
	last := math.Float64bits(v[0])
	w.write(last, 64)
	for _, f := range v[1:] {
		b := math.Float64bits(f)
		x := b ^ last
		last = b
		if x == 0 {
			w.write(0, 1)
			continue
		}
		lead, trail := uint(bits.LeadingZeros64(x)), uint(bits.TrailingZeros64(x))
		size := 64 - lead - trail
		w.write(1<<12|uint64(lead)<<6|uint64(size-1), 13)
		w.write(x>>trail, size)
	}
	b := w.flush()
	dst = binary.AppendUvarint(dst, uint64(len(b)))
	return append(dst, b...)
}

func readXOR(b []byte, dst []float64) ([]byte, error) {
	size, n := binary.Uvarint(b)
	if n <= 0 || size > uint64(len(b)-n) {
		return nil, errShort
	}
	in := bitReader{b: b[n : n+int(size)]}
	last := in.read(64)
	dst[0] = math.Float64frombits(last)
	for i := 1; i < len(dst); i++ {
		if in.read(1) == 1 {
			lead, count := uint(in.read(6)), uint(in.read(6))+1
			if lead+count > 64 {
				return nil, errors.New("has a difference longer than a number")
			}
			last ^= in.read(count) << (64 - lead - count)
		}
		dst[i] = math.Float64frombits(last)
	}
	if in.short {
		return nil, errShort
	}
	return b[n+int(size):], nil
}
