package store

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"time"

	bolt "go.etcd.io/bbolt"
)

// Bucket is one point of a chart: what a channel read in [Start, End). With N = 0 there was nothing, and Min, Mean and
// Max are NaN.
type Bucket struct {
	Start, End     time.Time
	Min, Mean, Max float64
	N              int
}

// mostBuckets bounds a chart; no screen is wider.
const mostBuckets = 100_000

// Chart cuts [from, to) into n buckets and sums the readings of a channel into them, from the coarsest level whose
// slots are no longer than a bucket, raw readings where a bucket is shorter than a minute. A slot counts as a whole in
// the bucket in which it begins, so that a reading may be counted up to one slot early, and never twice. Where raw
// readings or minutes were deleted for their age, the next coarser level serves. Boots that are not placed have no
// place in a chart. The buckets of a channel that has never read are empty. A block that cannot be read is left out and named in the error, a *DamageError, beside the buckets.
func (s *Store) Chart(name string, from, to time.Time, n int) ([]Bucket, error) {
	if n < 1 || n > mostBuckets || !from.Before(to) {
		return nil, fmt.Errorf("chart of %q: want 1 to %d buckets and a start before its end, not %d buckets from %v to %v",
			name, mostBuckets, n, from, to)
	}
	s.mu.Lock()
	ch := s.byName[name]
	s.mu.Unlock()
	if ch == nil {
		return newCanvas(from, to, n).buckets(), nil
	}
	// What is sealed while the chart is drawn would count twice, as open and as a block: then it is drawn again, the
	// last time with the writer held up, for the few milliseconds that it takes.
	for range 2 {
		before := s.seals()
		c, err := s.draw(ch, from, to, n)
		if before%2 == 0 && before == s.seals() {
			return c.buckets(), err
		}
	}
	s.write.Lock()
	defer s.write.Unlock()
	c, err := s.draw(ch, from, to, n)
	return c.buckets(), err
}

// seals counts beginnings and ends of sealing: odd while it goes on.
func (s *Store) seals() uint64 {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.sealing
}

func (s *Store) draw(ch *channel, from, to time.Time, n int) (*canvas, error) {
	c := newCanvas(from, to, n)
	lev := levelFor(to.Sub(from) / time.Duration(n))
	var boots []Boot
	for _, boot := range s.Boots() {
		if !boot.Zero.IsZero() && boot.Zero.Before(to) {
			boots = append(boots, boot)
		}
	}
	if lev >= alwaysKept {
		return c, s.chartBoots(c, ch, boots, &levels[lev])
	}
	var errs []error
	for _, boot := range boots {
		errs = append(errs, s.chartBoot(c, ch, boot, lev))
	}
	return c, errors.Join(errs...)
}

// alwaysKept is the finest level of which nothing is deleted for its age.
const alwaysKept = 1

// chartBoots adds what many boots read, from a level of which all is kept. The rows of a channel stand in the order of
// its boots, so that one pass over them takes what a pass for each boot would take, without asking for each.
func (s *Store) chartBoots(c *canvas, ch *channel, boots []Boot, l *level) error {
	if len(boots) == 0 {
		return nil
	}
	var errs []error
	placed := make(map[uint32]Boot, len(boots))
	for _, boot := range boots {
		placed[boot.ID] = boot
		if first, end := c.within(boot); end > 0 {
			errs = append(errs, s.chartOpen(c, ch, boot, first, end))
		}
	}
	from := rollKey{ch.id, boots[0].ID, 0}.bytes()
	last := boots[len(boots)-1].ID
	errs = append(errs, s.eachValue(l.bucket, from, 4, func(k, v []byte) (more bool, err error) {
		key, ok := parseRollKey(k)
		if !ok || key.boot > last {
			return false, nil
		}
		boot, ok := placed[key.boot]
		if !ok {
			return true, nil
		}
		first, end := c.within(boot)
		return true, addRow(c, l, ch, boot, k, v, first, end)
	}))
	return errors.Join(errs...)
}

// within returns the part of a boot's monotonic time that lies on the canvas, as [first, end).
func (c *canvas) within(boot Boot) (first, end int64) {
	return max(0, int64(c.from.Sub(boot.Zero))), int64(c.to.Sub(boot.Zero))
}

// addRow adds a row of roll-ups, those that begin in [first, end).
func addRow(c *canvas, l *level, ch *channel, boot Boot, k, v []byte, first, end int64) error {
	key, _ := parseRollKey(k)
	if begin := int64(key.period) * l.slots * int64(l.width); begin >= end || begin+l.slots*int64(l.width) <= first {
		return nil
	}
	rs, err := readRolls(k, v, l)
	if err != nil {
		return &DamageError{string(l.bucket), key.String() + ", " + ch.name, err}
	}
	for i := range rs {
		begin := rs[i].slot * int64(l.width)
		// A slot that began before the chart counts in no bucket, else a chart's first point would reach back.
		if begin >= first && begin < end {
			c.add(boot.Zero.Add(time.Duration(begin)), &rs[i])
		}
	}
	return nil
}

// levelFor returns the index of the coarsest level with slots of at most width, −1 for raw readings.
func levelFor(width time.Duration) int {
	i := len(levels) - 1
	for i >= 0 && levels[i].width > width {
		i--
	}
	return i
}

// chartBoot adds what one boot read: from level lev on, and from coarser ones where the finer were deleted.
func (s *Store) chartBoot(c *canvas, ch *channel, boot Boot, lev int) error {
	first, end := c.within(boot)
	if end <= 0 {
		return nil
	}
	if err := s.chartOpen(c, ch, boot, first, end); err != nil {
		return err
	}
	// kept[0] is where raw readings begin, kept[1] where minutes do.
	kept, err := s.keptFrom(boot.ID)
	if err != nil {
		return err
	}
	var errs []error
	for at := lev; at < len(levels) && first < end; at++ {
		lower := int64(0)
		if at < 1 {
			lower = kept[at+1]
		}
		if start := max(first, lower); start < end {
			if at < 0 {
				err = s.chartRaw(c, ch, boot, start, end)
			} else {
				err = s.chartRolls(c, &levels[at], ch, boot, start, end)
			}
			errs = append(errs, err)
		}
		end = min(end, lower)
	}
	return errors.Join(errs...)
}

// chartOpen adds what is not sealed yet. What came behind others may be sealed already, and is looked up.
func (s *Store) chartOpen(c *canvas, ch *channel, boot Boot, first, end int64) error {
	var open []rec
	s.mu.Lock()
	late := ch.late
	ch.open.each(boot.ID, first, end-1, func(r *rec) {
		switch {
		case r.boot != boot.ID || r.mono < first || r.mono >= end:
		case late:
			open = append(open, *r)
		default:
			c.addReading(boot, r)
		}
	})
	s.mu.Unlock()
	fresh, err := s.notSealed(ch, open)
	for i := range fresh {
		c.addReading(boot, &fresh[i])
	}
	return err
}

// notSealed returns those of the readings of one boot that are in no block.
func (s *Store) notSealed(ch *channel, open []rec) (fresh []rec, err error) {
	if len(open) == 0 {
		return nil, nil
	}
	err = s.view(func(tx *bolt.Tx) error {
		for rs := sorted(open); len(rs) > 0; {
			n := blockLength(rs)
			old, _, err := s.overlapping(tx, ch, rs[:n])
			if err != nil {
				return err
			}
			fresh = append(fresh, without(rs[:n], old)...)
			rs = rs[n:]
		}
		return nil
	})
	return fresh, err
}

func (c *canvas) addReading(boot Boot, r *rec) {
	if !math.IsNaN(r.val) {
		c.add(boot.Zero.Add(time.Duration(r.mono)), &roll{n: 1, min: r.val, max: r.val, sum: r.val})
	}
}

func (s *Store) chartRaw(c *canvas, ch *channel, boot Boot, first, end int64) error {
	from := blockKey{channel: ch.id, boot: boot.ID, mono: first / int64(day) * int64(day)}.bytes()
	var buf []rec
	return s.eachValue(bucketBlocks, from, 8, func(k, v []byte) (more bool, err error) {
		key, ok := parseBlockKey(k)
		if !ok || key.mono >= end {
			return false, nil
		}
		if h, err := readHead(v); err == nil && key.mono+int64(h.span) < first {
			return true, nil
		}
		if buf, err = readBlock(buf[:0], k, v, boot.ID); err != nil {
			return true, &DamageError{string(bucketBlocks), key.String() + ", " + ch.name, err}
		}
		for i := range buf {
			if buf[i].mono >= first && buf[i].mono < end {
				c.addReading(boot, &buf[i])
			}
		}
		return true, nil
	})
}

func (s *Store) chartRolls(c *canvas, l *level, ch *channel, boot Boot, first, end int64) error {
	from := rollKey{ch.id, boot.ID, uint32(l.period(l.slot(first)))}.bytes()
	return s.eachValue(l.bucket, from, 8, func(k, v []byte) (more bool, err error) {
		key, ok := parseRollKey(k)
		if !ok || int64(key.period)*l.slots*int64(l.width) >= end {
			return false, nil
		}
		return true, addRow(c, l, ch, boot, k, v, first, end)
	})
}

// copyBytes is how much one read transaction of a chart copies out before it ends.
const copyBytes = 64 << 10

// eachValue hands over the rows of a bucket at or after from whose first prefix bytes are those of from, outside any
// transaction, until f says that there is no more. The errors of f are joined.
func (s *Store) eachValue(bucket, from []byte, prefix int, f func(k, v []byte) (more bool, err error)) error {
	var errs []error
	var keys, arena []byte
	var sizes []int
	for head := bytes.Clone(from[:prefix]); ; {
		keys, arena, sizes = keys[:0], arena[:0], sizes[:0]
		err := s.view(func(tx *bolt.Tx) error {
			c := tx.Bucket(bucket).Cursor()
			for k, v := c.Seek(from); k != nil && bytes.HasPrefix(k, head) && len(arena) < copyBytes; k, v = c.Next() {
				keys = append(binary.AppendUvarint(keys, uint64(len(k))), k...)
				arena = append(arena, v...)
				sizes = append(sizes, len(v))
			}
			return nil
		})
		if err != nil || len(sizes) == 0 {
			return errors.Join(append(errs, err)...)
		}
		rest, at := keys, 0
		for _, size := range sizes {
			n, w := binary.Uvarint(rest)
			k := rest[w : w+int(n)]
			rest = rest[w+int(n):]
			more, err := f(k, arena[at:at+size])
			if err != nil {
				errs = append(errs, err)
			}
			if !more {
				return errors.Join(errs...)
			}
			at += size
			from = append(bytes.Clone(k), 0)
		}
	}
}
