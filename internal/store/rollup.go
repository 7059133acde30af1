package store

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"
)

// level is one size of roll-up. Slots count from the boot: slot i covers monotonic time [i·width, (i+1)·width).
type level struct {
	bucket []byte
	width  time.Duration
	slots  int64 // in one block
}

// levels are the roll-ups from fine to coarse.
var levels = [...]level{
	{[]byte("minutes"), time.Minute, 24 * 60},
	{[]byte("hours"), time.Hour, 32 * 24},
	{[]byte("days"), day, 1024},
}

func (l *level) slot(mono int64) int64   { return mono / int64(l.width) }
func (l *level) period(slot int64) int64 { return slot / l.slots }

// roll is the roll-up of one slot: of the readings that are numbers.
type roll struct {
	slot          int64
	n             int64
	min, max, sum float64
}

func (r *roll) mean() float64 { return r.sum / float64(r.n) }

func (r *roll) add(v float64) {
	if math.IsNaN(v) {
		return
	}
	r.merge(&roll{n: 1, min: v, max: v, sum: v})
}

// merge adds what o counts, whatever its slot.
func (r *roll) merge(o *roll) {
	switch {
	case o.n == 0:
	case r.n == 0:
		r.n, r.min, r.max, r.sum = o.n, o.min, o.max, o.sum
	default:
		r.n, r.min, r.max, r.sum = r.n+o.n, min(r.min, o.min), max(r.max, o.max), r.sum+o.sum
	}
}

// rollUp sums readings of one boot, sorted by time, into slots of l.
func rollUp(rs []rec, l *level) []roll {
	var out []roll
	for i := range rs {
		slot := l.slot(rs[i].mono)
		if math.IsNaN(rs[i].val) {
			continue
		}
		if len(out) == 0 || out[len(out)-1].slot != slot {
			out = append(out, roll{slot: slot})
		}
		out[len(out)-1].add(rs[i].val)
	}
	return out
}

// coarsen sums roll-ups of a finer level into slots of l.
func coarsen(fine []roll, from, l *level) []roll {
	var out []roll
	for i := range fine {
		slot := l.slot(fine[i].slot * int64(from.width))
		if len(out) == 0 || out[len(out)-1].slot != slot {
			out = append(out, roll{slot: slot})
		}
		out[len(out)-1].merge(&fine[i])
	}
	return out
}

// mergeRolls joins two lists that are sorted by slot.
func mergeRolls(a, b []roll) []roll {
	out := make([]roll, 0, len(a)+len(b))
	for len(a) > 0 || len(b) > 0 {
		switch {
		case len(b) == 0 || len(a) > 0 && a[0].slot < b[0].slot:
			out, a = append(out, a[0]), a[1:]
		case len(a) == 0 || b[0].slot < a[0].slot:
			out, b = append(out, b[0]), b[1:]
		default:
			r := a[0]
			r.merge(&b[0])
			out, a, b = append(out, r), a[1:], b[1:]
		}
	}
	return out
}

// A block of roll-ups is
//
//	version u8 | number uvarint | slots ints | counts ints | least floats | greatest floats | means | CRC-32C
//
// Means are (divisor uvarint | ints) where the readings are counts of a divisor: then the sum of the codes is a whole
// number and nothing is lost. With divisor 0 they are floats, rounded to 32 bits of mantissa: 2e-10 of the value.
const rollVersion = 1

func (c *coder) appendRolls(dst, key []byte, rs []roll) []byte {
	start := len(dst)
	dst = append(dst, rollVersion)
	dst = binary.AppendUvarint(dst, uint64(len(rs)))
	v := c.codes(len(rs))
	for i := range rs {
		v[i] = rs[i].slot
	}
	dst = c.appendInts(dst, v)
	v = c.codes(len(rs))
	for i := range rs {
		v[i] = rs[i].n
	}
	dst = c.appendInts(dst, v)
	f := make([]float64, len(rs))
	for i := range rs {
		f[i] = rs[i].min
	}
	dst, hint := c.appendFloats(dst, f, 0)
	for i := range rs {
		f[i] = rs[i].max
	}
	dst, hint = c.appendFloats(dst, f, hint)
	dst = c.appendMeans(dst, rs, f, hint)
	return sealCRC(key, dst, start)
}

// appendMeans writes the sums as codes at divisor d if they are whole numbers there, and as rounded means if not.
func (c *coder) appendMeans(dst []byte, rs []roll, f []float64, d float64) []byte {
	v := c.codes(len(rs))
	for i := range rs {
		k := math.Round(rs[i].sum * d)
		// The sum was added up in floats: it lies within n roundings of its whole number.
		if d == 0 || !(math.Abs(k) < maxCode) || math.Abs(k-rs[i].sum*d) > 1e-3 {
			dst = binary.AppendUvarint(dst, 0)
			for i := range rs {
				f[i] = roundMean(&rs[i])
			}
			dst, _ = c.appendFloats(dst, f, 0)
			return dst
		}
		v[i] = int64(k)
	}
	dst = binary.AppendUvarint(dst, uint64(d))
	return c.appendInts(dst, v)
}

// roundMean keeps 32 bits of the mantissa, and the mean between the least and the greatest value.
func roundMean(r *roll) float64 {
	const cut = 1 << 20
	m := math.Float64frombits((math.Float64bits(r.mean()) + cut/2) &^ (cut - 1))
	return min(max(m, r.min), r.max)
}

// readRolls decodes a block of roll-ups of level l that stands under key.
func readRolls(key, b []byte, l *level) ([]roll, error) {
	body, err := openCRC(key, b)
	if err != nil {
		return nil, err
	}
	return decodeRolls(body, l)
}

func decodeRolls(b []byte, l *level) ([]roll, error) {
	if b[0] != rollVersion {
		return nil, fmt.Errorf("is of version %d, and this program reads up to %d", b[0], rollVersion)
	}
	n, size := binary.Uvarint(b[1:])
	if size <= 0 || n == 0 || n > uint64(l.slots) {
		return nil, fmt.Errorf("says that it holds %d roll-ups, outside 1 to %d", n, l.slots)
	}
	b = b[1+size:]
	rs := make([]roll, n)
	ints, floats := make([]int64, n), make([]float64, n)
	if b, err := readInts(b, ints); err == nil {
		for i := range rs {
			rs[i].slot = ints[i]
		}
		return decodeSums(b, rs, ints, floats)
	}
	return nil, errors.New("its column \"slot\" cannot be read")
}

func decodeSums(b []byte, rs []roll, ints []int64, floats []float64) ([]roll, error) {
	b, err := readInts(b, ints)
	for i := range rs {
		rs[i].n = ints[i]
	}
	if err == nil {
		b, err = readFloats(b, floats)
	}
	for i := range rs {
		rs[i].min = floats[i]
	}
	if err == nil {
		b, err = readFloats(b, floats)
	}
	for i := range rs {
		rs[i].max = floats[i]
	}
	if err != nil {
		return nil, fmt.Errorf("a column %w", err)
	}
	if b, err = decodeMeans(b, rs, ints, floats); err != nil {
		return nil, fmt.Errorf("its means: %w", err)
	}
	if len(b) != 0 {
		return nil, fmt.Errorf("has %d bytes after its last column", len(b))
	}
	return rs, checkRolls(rs)
}

func decodeMeans(b []byte, rs []roll, ints []int64, floats []float64) ([]byte, error) {
	d, n := binary.Uvarint(b)
	if n <= 0 || d >= maxCode {
		return nil, errShort
	}
	b = b[n:]
	if d == 0 {
		b, err := readFloats(b, floats)
		for i := range rs {
			rs[i].sum = floats[i] * float64(rs[i].n)
		}
		return b, err
	}
	b, err := readInts(b, ints)
	for i := range rs {
		rs[i].sum = float64(ints[i]) / float64(d)
	}
	return b, err
}

// checkRolls tells what no sound block of roll-ups has.
func checkRolls(rs []roll) error {
	if !slices.IsSortedFunc(rs, func(a, b roll) int { return int(max(-1, min(1, a.slot-b.slot))) }) {
		return errors.New("is out of order")
	}
	for i := range rs {
		r := &rs[i]
		if i > 0 && r.slot == rs[i-1].slot || r.slot < 0 || r.n < 1 {
			return fmt.Errorf("has a bad slot or count at roll-up %d", i)
		}
		slack := 1e-9 * max(math.Abs(r.min), math.Abs(r.max))
		if m := r.mean(); !(r.min <= m+slack && m <= r.max+slack) {
			return fmt.Errorf("has a mean of %g outside %g to %g at roll-up %d", m, r.min, r.max, i)
		}
	}
	return nil
}
