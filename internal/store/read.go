package store

import (
	"bytes"
	"context"
	"iter"
	"math"
	"time"

	bolt "go.etcd.io/bbolt"

	"ductward/internal/reading"
)

// Cursor is a place in the stored order.
type Cursor struct {
	Boot uint32
	Mono time.Duration
	Seq  uint64
}

// ReadQuery says which readings to give. The zero value means all.
type ReadQuery struct {
	Channels []string  // none: every channel
	From, To time.Time // civil, From ≤ time < To; zero: no bound. With either set, boots that are not placed are left out
	After    Cursor    // only readings behind it; the zero value: from the first
}

// Readings gives readings in stored order: by boot, monotonic time, sequence, then channel number. Those that are open
// are among them; one that is appended after it began is not, unless it is late, and then it may be. A block that cannot be read is given as a *DamageError in its
// place, and the others go on if the caller does. No transaction is open while the caller works.
func (s *Store) Readings(ctx context.Context, q ReadQuery) iter.Seq2[reading.Reading, error] {
	return func(yield func(reading.Reading, error) bool) {
		for _, boot := range s.Boots() {
			first, end, ok := q.within(boot)
			if !ok {
				continue
			}
			// Where to end must be known before what is open is copied, so that nothing before the end is missed.
			until, err := s.newest(boot.ID)
			if err != nil {
				yield(reading.Reading{}, err)
				return
			}
			m := s.newMerge(boot, q, first, end)
			m.until = until
			for {
				if err := ctx.Err(); err != nil {
					yield(reading.Reading{}, err)
					return
				}
				if !m.chunk(yield) {
					return
				}
				if len(m.queue) == 0 {
					break
				}
			}
		}
	}
}

// newest returns the last reading of a boot in stored order. Readers end at it: what comes in behind it meanwhile would
// be seen of one channel and not of another, and a caller that goes on from there later would miss the other.
func (s *Store) newest(boot uint32) (last rec, err error) {
	s.mu.Lock()
	last.boot = boot
	if end := s.ends[boot]; end != nil { // since the store was opened
		last = *end
	}
	ids := make([]uint32, 0, len(s.byID))
	for id := range s.byID {
		ids = append(ids, id)
	}
	s.mu.Unlock()
	err = s.view(func(tx *bolt.Tx) error {
		c := tx.Bucket(bucketBlocks).Cursor()
		for _, id := range ids {
			if end := endOf(c, id, boot); end.compare(&last) > 0 {
				last = end
			}
		}
		return nil
	})
	return last, err
}

// endOf returns where the blocks of a channel and boot end, by what their heads say.
func endOf(c *bolt.Cursor, channel, boot uint32) rec {
	end := rec{boot: boot, seq: math.MaxUint64, mono: -1}
	k, _ := seekBefore(c, blockKey{channel: channel, boot: boot, mono: math.MaxInt64, serial: math.MaxUint32}.bytes())
	last, ok := parseBlockKey(k)
	if !ok || last.channel != channel || last.boot != boot {
		return end
	}
	from := blockKey{channel: channel, boot: boot, mono: last.mono / int64(day) * int64(day)}.bytes()
	for k, v := c.Seek(from); k != nil && bytes.HasPrefix(k, from[:8]); k, v = c.Next() {
		key, ok := parseBlockKey(k)
		if h, err := readHead(v); ok && err == nil {
			end.mono = max(end.mono, key.mono+int64(h.span))
		}
	}
	return end
}

// seekBefore moves to the last key before the given one.
func seekBefore(c *bolt.Cursor, key []byte) (k, v []byte) {
	if k, _ := c.Seek(key); k == nil {
		return c.Last()
	}
	return c.Prev()
}

// within returns the monotonic times [first, end] of a boot that q asks for.
func (q *ReadQuery) within(b Boot) (first, end int64, ok bool) {
	if b.ID < q.After.Boot {
		return 0, 0, false
	}
	first, end = 0, math.MaxInt64
	if b.ID == q.After.Boot {
		first = int64(q.After.Mono)
	}
	if b.Zero.IsZero() {
		return first, end, q.From.IsZero() && q.To.IsZero()
	}
	if !q.From.IsZero() {
		first = max(first, int64(q.From.Sub(b.Zero)))
	}
	if !q.To.IsZero() {
		end = int64(q.To.Sub(b.Zero)) - 1
	}
	return first, end, first <= end
}
