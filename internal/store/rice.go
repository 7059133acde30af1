package store

import (
	"encoding/binary"
	"math/bits"
)

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
