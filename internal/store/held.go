package store

import (
	"slices"
)

// held is what memory holds of a channel until it is sealed: in order of arrival, the older ones packed as they will be in
// a block. A reading takes 56 bytes, packed a few; three hours of sixteen channels at 1 Hz would be ten megabytes, and as
// much again while they are sealed.
type held struct {
	packs  []pack
	packed int   // readings in packs
	tail   []rec // the newest
}

// packSize is how many readings are packed together: enough for the code to be near its best, few enough that a reader
// unpacks them in a moment.
const packSize = 512

// pack is a row of packed readings. Where they may not share a block, being out of order, of several boots or of several
// days of one, they stand as they came.
type pack struct {
	n     int
	coded []byte // by coder.appendBlock under no key; nil: plain
	plain []rec
	boot  uint32
	first int64 // monotonic times between which they lie, of what is coded
	last  int64
}

func (h *held) len() int { return h.packed + len(h.tail) }

// push adds a reading.
func (h *held) push(r rec) { h.tail = append(h.tail, r) }

// newest returns the reading that came last; there must be one. What is packed is never all.
func (h *held) newest() *rec { return &h.tail[len(h.tail)-1] }

// snapshot returns what is held now. It may be read while readings are added to h, and only until they are packed.
func (h *held) snapshot() held {
	return held{packs: slices.Clip(h.packs), packed: h.packed, tail: slices.Clip(h.tail)}
}

// from returns the readings from number n on, which must be in the tail, without copying them.
func (h *held) from(n int) []rec { return h.tail[n-h.packed:] }

// all returns a copy of all readings.
func (h *held) all() []rec {
	out := make([]rec, 0, h.len())
	for i := range h.packs {
		out = h.packs[i].append(out)
	}
	return append(out, h.tail...)
}

// each visits the readings of a boot that may lie in [first, last]; others may be among them.
func (h *held) each(boot uint32, first, last int64, visit func(*rec)) {
	var buf []rec
	for i := range h.packs {
		p := &h.packs[i]
		if p.coded != nil && (p.boot != boot || p.last < first || p.first > last) {
			continue
		}
		buf = p.append(buf[:0])
		for k := range buf {
			visit(&buf[k])
		}
	}
	for i := range h.tail {
		visit(&h.tail[i])
	}
}

// append adds a pack's readings to dst.
func (p *pack) append(dst []rec) []rec {
	if p.coded == nil {
		return append(dst, p.plain...)
	}
	out, err := readBlock(dst, nil, p.coded, p.boot)
	if err != nil {
		panic(err) // it was made in this memory, from readings that are in order
	}
	return out
}

// pack packs readings of which done are in pieces; the newest stay as they are.
func (h *held) pack(c *coder, done int, hint float64) float64 {
	for h.packed+packSize <= done && len(h.tail) > packSize {
		var p pack
		p, hint = packOf(c, h.tail[:packSize], hint)
		h.packs = append(h.packs, p)
		h.packed += packSize
		h.tail = append(make([]rec, 0, max(len(h.tail)-packSize, packSize)+packSize/8), h.tail[packSize:]...)
	}
	return hint
}

// unpack turns what is packed back, so that all of it can be written again.
func (h *held) unpack() {
	if h.packed > 0 {
		*h = held{tail: h.all()}
	}
}

// packOf packs a row of readings.
func packOf(c *coder, rs []rec, hint float64) (pack, float64) {
	p := pack{n: len(rs), boot: rs[0].boot, first: rs[0].mono, last: rs[len(rs)-1].mono}
	if rs[0].boot != rs[len(rs)-1].boot || checkOrder(rs) != nil {
		p.plain = slices.Clone(rs)
		return p, hint
	}
	var coded []byte
	coded, hint = c.appendBlock(nil, nil, rs, hint)
	p.coded = slices.Clone(coded)
	return p, hint
}

// drop lets go of the first n readings, among them all that are packed.
func (h *held) drop(n int) {
	*h = held{tail: append([]rec(nil), h.tail[n-h.packed:]...)}
}
