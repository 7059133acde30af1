package store

import (
	"bytes"
	"math/rand/v2"
)

// A power cut leaves the file somewhere between what it was before a commit and what it would have been after. bbolt
// writes all changed pages and waits for the card, and then writes one meta page and waits again. Until the first wait
// is over, any of the changed sectors may be there and others not, in any order; until the second is over, the same goes
// for the meta page. A file that grows does so before the pages are written, and what stands in the new part until then
// is for the file system to say.

const (
	sector   = 512          // what a card writes whole
	metaSize = 2 * pageSize // both meta pages
)

// cut is one commit from outside: the file before and after it.
type cut struct {
	before, after []byte
	rng           *rand.Rand
}

// image is one way in which the file may lie there after a cut.
type image struct {
	what   string
	b      []byte
	before bool // it may be as before the commit
	after  bool // it may be as after the commit
}

// changed lists the sectors within [from, to) that the commit changes.
func (c *cut) changed(from, to int) (sectors []int) {
	for at := from; at < to; at += sector {
		if at >= len(c.before) || !bytes.Equal(c.before[at:at+sector], c.after[at:at+sector]) {
			sectors = append(sectors, at)
		}
	}
	return sectors
}

// grown returns the file before the commit with some length between that and the one after, by any number of bytes.
func (c *cut) grown() []byte {
	more := len(c.after) - len(c.before)
	switch c.rng.IntN(4) {
	case 0:
		more = 0
	case 1:
		more = c.rng.IntN(more + 1)
	}
	b := append(bytes.Clone(c.before), make([]byte, more)...)
	if c.rng.IntN(3) == 0 {
		c.garble(b[len(c.before):])
	}
	return b
}

func (c *cut) garble(b []byte) {
	for i := range b {
		b[i] = byte(c.rng.Uint32())
	}
}

// put copies the sector at the given place from the file after the commit, as far as b reaches.
func (c *cut) put(b []byte, at int) {
	if at < len(b) {
		copy(b[at:min(at+sector, len(b))], c.after[at:])
	}
}

// tornPages has the old meta pages and any of the changed sectors.
func (c *cut) tornPages() image {
	b := c.grown()
	chance := []float64{0.05, 0.5, 0.95, 1}[c.rng.IntN(4)]
	for _, at := range c.changed(metaSize, len(c.after)) {
		if c.rng.Float64() < chance {
			c.put(b, at)
		}
	}
	return image{what: "torn pages", b: b, before: true}
}

// cutPages has the old meta pages and the changed sectors up to some place, as if they had been written in order, the
// last of them not to its end.
func (c *cut) cutPages() image {
	b := c.grown()
	sectors := c.changed(metaSize, len(c.after))
	n := c.rng.IntN(len(sectors) + 1)
	for _, at := range sectors[:n] {
		c.put(b, at)
	}
	if n > 0 {
		at := sectors[n-1]
		if torn := at + c.rng.IntN(sector); torn < len(b) {
			c.garble(b[torn:min(at+sector, len(b))])
		}
	}
	return image{what: "pages cut off", b: b, before: true}
}

// tornMeta has all pages, and the new meta page in part: some of its sectors, its first one to some byte, or garbage.
func (c *cut) tornMeta() image {
	b := bytes.Clone(c.after)
	copy(b[:metaSize], c.before[:metaSize])
	meta := c.changed(0, metaSize)
	page := meta[0] / pageSize * pageSize
	out := image{what: "torn meta", b: b, before: true, after: true}
	switch c.rng.IntN(4) {
	case 0:
		out.what, out.after = "absent meta", false
	case 1:
		for at := page; at < page+pageSize; at += sector {
			if c.rng.IntN(2) == 0 {
				c.put(b, at)
			}
		}
	case 2:
		n := c.rng.IntN(pageHead + 64)
		copy(b[page:page+n], c.after[page:])
	default:
		out.what, out.after = "garbage for a meta", false
		c.garble(b[page : page+pageSize])
	}
	return out
}

// whole is the file once the commit has returned.
func (c *cut) whole() image { return image{what: "whole", b: c.after, after: true} }
