package store

import (
	"encoding/binary"
	"errors"
	"math/bits"
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

// window predicts the next value from those before it. The encoder and the decoder step it alike.
type window struct {
	w           []int64 // values so far
	short, long int64   // sums of the last shortWindow and longWindow values
}

// push takes the value at index i, which must be w[i] by now.
func (p *window) push(i int) {
	p.short += p.w[i]
	p.long += p.w[i]
	if i >= shortWindow {
		p.short -= p.w[i-shortWindow]
	}
	if i >= longWindow {
		p.long -= p.w[i-longWindow]
	}
}

// predict gives the four predictions for index i ≥ 1: the last value, the mean of the last 4 and of the last 32, and
// the straight line through the last two. Means over fewer values than the window are the last value.
func (p *window) predict(i int) (last, short, long, line int64) {
	last = p.w[i-1]
	short, long, line = last, last, last
	if i >= shortWindow {
		short = (p.short + shortWindow/2) >> 2
	}
	if i >= longWindow {
		long = (p.long + longWindow/2) >> 5
	}
	if i >= 2 {
		line = 2*last - p.w[i-2]
	}
	return last, short, long, line
}

// rice appends the bit stream of mode rice for v[1:].
func (c *coder) rice(dst []byte, v []int64, unit int64) []byte {
	w := c.scaleDown(v, unit)
	out := bitWriter{b: dst}
	win := window{w: w}
	win.push(0)
	for i := 1; i < len(w); {
		n := min(riceGroup, len(w)-i)
		var sum [4]uint64
		for j := range n {
			a, s, l, t := win.predict(i + j)
			x := w[i+j]
			win.push(i + j)
			for p, g := range [4]int64{a, s, l, t} {
				u := zigzag(x - g)
				c.res[p][j] = u
				sum[p] = addCapped(sum[p], u)
			}
		}
		best := 0
		for p := 1; p < 4; p++ {
			if sum[p] < sum[best] {
				best = p
			}
		}
		writeGroup(&out, uint64(best), sum[best], c.res[best][:n])
		i += n
	}
	return out.flush()
}

// scaleDown returns (v−v[0])/unit, summed from the differences so that it wraps as the decoder does.
func (c *coder) scaleDown(v []int64, unit int64) []int64 {
	if cap(c.words) < len(v) {
		c.words = make([]int64, len(v))
	}
	w := c.words[:len(v)]
	w[0] = 0
	for i := 1; i < len(v); i++ {
		w[i] = w[i-1] + (v[i]-v[i-1])/unit
	}
	return w
}

func addCapped(a, b uint64) uint64 {
	if s := a + b; s >= a {
		return s
	}
	return ^uint64(0)
}

func writeGroup(out *bitWriter, predictor, sum uint64, res []uint64) {
	if sum == 0 {
		out.write(predictor<<6|riceZero, 8)
		return
	}
	k := riceParameter(sum, res)
	out.write(predictor<<6|uint64(k), 8)
	for _, u := range res {
		q := u >> k
		if q >= riceEscape {
			out.write(1<<riceEscape-1, riceEscape)
			out.write(u, 64)
			continue
		}
		out.write(1<<(q+1)-2, uint(q)+1)
		out.write(u, k)
	}
}

// riceParameter picks the cheapest parameter near the logarithm of the mean residual.
func riceParameter(sum uint64, res []uint64) uint {
	mean := sum / uint64(len(res))
	guess := uint(min(bits.Len64(mean), riceMax))
	best, cost := guess, ^uint64(0)
	for k := guess - min(guess, 2); k <= min(guess+1, riceMax); k++ {
		c := uint64(len(res)) * uint64(k+1)
		for _, u := range res {
			if q := u >> k; q < riceEscape {
				c += q
			} else {
				c += riceEscape + 64
			}
		}
		if c < cost {
			best, cost = k, c
		}
	}
	return best
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

func readRice(b []byte, dst []int64, unit int64) ([]byte, error) {
	size, n := binary.Uvarint(b)
	if n <= 0 || size > uint64(len(b)-n) {
		return nil, errShort
	}
	in := bitReader{b: b[n : n+int(size)]}
	rest := b[n+int(size):]
	first := dst[0]
	dst[0] = 0
	win := window{w: dst}
	win.push(0)
	for i := 1; i < len(dst); {
		head := in.read(8)
		if in.short {
			return nil, errShort
		}
		end := min(i+riceGroup, len(dst))
		for ; i < end; i++ {
			u := uint64(0)
			if k := uint(head & 63); k != riceZero {
				if q := in.ones(riceEscape); q == riceEscape {
					u = in.read(64)
				} else {
					u = uint64(q)<<k | in.read(k)
				}
			}
			last, short, long, line := win.predict(i)
			g := [4]int64{last, short, long, line}[head>>6]
			dst[i] = g + unzigzag(u)
			win.push(i)
		}
	}
	if in.short {
		return nil, errShort
	}
	for i := range dst {
		dst[i] = first + dst[i]*unit
	}
	return rest, nil
}
