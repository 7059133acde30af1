package store

import "math/bits"

// bitWriter appends bits to a byte slice, most significant first.
type bitWriter struct {
	b   []byte
	acc uint64 // the n bits that are not written yet, in the low end
	n   uint
}

// write appends the low count bits of v; count is at most 64.
func (w *bitWriter) write(v uint64, count uint) {
	if count > 32 {
		w.write(v>>32, count-32)
		count = 32
	}
	w.acc = w.acc<<count | v&(1<<count-1)
	w.n += count
	for w.n >= 8 {
		w.n -= 8
		w.b = append(w.b, byte(w.acc>>w.n))
	}
}

// flush pads the last byte with zeros and returns all bytes.
func (w *bitWriter) flush() []byte {
	if w.n > 0 {
		w.b = append(w.b, byte(w.acc<<(8-w.n)))
		w.n = 0
	}
	return w.b
}

// bitReader reads what a bitWriter wrote. Past the end it gives zeros and sets short.
type bitReader struct {
	b     []byte
	acc   uint64 // the n bits that are read next, in the high end
	n     uint
	short bool
}

func (r *bitReader) fill() {
	for r.n <= 56 && len(r.b) > 0 {
		r.acc |= uint64(r.b[0]) << (56 - r.n)
		r.b = r.b[1:]
		r.n += 8
	}
}

// read takes count bits; count is at most 64.
func (r *bitReader) read(count uint) uint64 {
	if count > 32 {
		high := r.read(count - 32)
		return high<<32 | r.read(32)
	}
	if count == 0 {
		return 0
	}
	if r.n < count {
		r.fill()
	}
	v := r.acc >> (64 - count)
	r.drop(count)
	return v
}

func (r *bitReader) drop(count uint) {
	if count > r.n {
		r.short, r.acc, r.n = true, 0, 0
		return
	}
	r.acc <<= count
	r.n -= count
}

// ones counts the one bits up to the next zero, at most limit (itself at most 32), and takes them; the zero is taken
// too unless the limit was met.
func (r *bitReader) ones(limit uint) uint {
	if r.n <= limit {
		r.fill()
	}
	q := uint(bits.LeadingZeros64(^r.acc))
	if q >= limit {
		r.drop(limit)
		return limit
	}
	r.drop(q + 1)
	return q
}
