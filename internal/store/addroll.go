package store

import (
	"bytes"

	bolt "go.etcd.io/bbolt"
)

// addRolls counts fresh readings of one boot, which are in no block yet, in the roll-ups of every level.
func (s *Store) addRolls(tx *bolt.Tx, id uint32, fresh []rec) error {
	rolls := rollUp(fresh, &levels[0])
	for i := range levels {
		l := &levels[i]
		if i > 0 {
			rolls = coarsen(rolls, &levels[i-1], l)
		}
		for rest := rolls; len(rest) > 0; {
			period := l.period(rest[0].slot)
			n := 1
			for n < len(rest) && l.period(rest[n].slot) == period {
				n++
			}
			key := rollKey{id, fresh[0].boot, uint32(period)}
			if err := s.mergeRollBlock(tx, i, key, rest[:n]); err != nil {
				return err
			}
			rest = rest[n:]
		}
	}
	return nil
}

// mergeRollBlock adds roll-ups to the block under key. A block that cannot be read is kept aside and made anew from the
// level below it.
func (s *Store) mergeRollBlock(tx *bolt.Tx, i int, key rollKey, add []roll) error {
	l := &levels[i]
	bucket := tx.Bucket(l.bucket)
	bucket.FillPercent = fill
	k := key.bytes()
	if v := bucket.Get(k); v != nil {
		old, err := readRolls(k, v, l)
		if err != nil {
			s.notice("bucket %q, %v: %v; it is kept aside and made anew from what is below it", l.bucket, key, err)
			if err := keepAside(tx, l.bucket, k, v); err != nil {
				return err
			}
			if old = rebuild(tx, i, key); i > 0 {
				add = nil // the level below counts them already
			}
		}
		add = mergeRolls(old, add)
	}
	return bucket.Put(k, s.coder.appendRolls(nil, k, add))
}

// rebuild makes the roll-ups of level i under key from raw blocks or from the finer level, as far as they can be read.
func rebuild(tx *bolt.Tx, i int, key rollKey) (out []roll) {
	l := &levels[i]
	first := int64(key.period) * l.slots * int64(l.width)
	end := first + l.slots*int64(l.width)
	if i == 0 {
		from := blockKey{channel: key.channel, boot: key.boot, mono: first}.bytes()
		c := tx.Bucket(bucketBlocks).Cursor()
		for k, v := c.Seek(from); k != nil && bytes.HasPrefix(k, from[:8]); k, v = c.Next() {
			if at, ok := parseBlockKey(k); !ok || at.mono >= end {
				break
			}
			if rs, err := readBlock(nil, k, v, key.boot); err == nil {
				out = mergeRolls(out, rollUp(rs, l))
			}
		}
		return out
	}
	finer := &levels[i-1]
	from := rollKey{key.channel, key.boot, uint32(finer.period(finer.slot(first)))}.bytes()
	c := tx.Bucket(finer.bucket).Cursor()
	for k, v := c.Seek(from); k != nil && bytes.HasPrefix(k, from[:8]); k, v = c.Next() {
		rs, err := readRolls(k, v, finer)
		if err != nil {
			continue
		}
		if rs[0].slot*int64(finer.width) >= end {
			break
		}
		for _, r := range coarsen(rs, finer, l) {
			if l.period(r.slot) == int64(key.period) {
				out = mergeRolls(out, []roll{r})
			}
		}
	}
	return out
}
