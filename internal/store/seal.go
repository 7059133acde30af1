package store

import (
	"bytes"
	"fmt"
	"slices"

	bolt "go.etcd.io/bbolt"
)

// fullBlock is the most readings that are written into one block. Longer blocks save little space and cost memory to
// read; shorter ones are joined with what follows until they are full.
const fullBlock = 3 * 3600

func (a *rec) dayOfBoot() bootDay { return bootDay{a.boot, a.day()} }

// seal turns all open readings into blocks and roll-ups and removes the pieces. It returns how many of the readings
// were in blocks already.
func (s *Store) seal(tx *bolt.Tx, bs []batch) (doubles int, err error) {
	for _, b := range bs {
		rs := sorted(b.all.all()) // channel by channel: one is unpacked at a time
		for len(rs) > 0 {
			n := blockLength(rs)
			dropped, err := s.sealPart(tx, b.ch, rs[:n])
			if err != nil {
				return 0, fmt.Errorf("seal channel %q: %w", b.ch.name, err)
			}
			doubles += dropped
			rs = rs[n:]
		}
	}
	return doubles, dropPieces(tx)
}

// dropPieces removes the pieces: all that they held is in blocks by now. One that could not be read is kept aside.
func dropPieces(tx *bolt.Tx) error {
	c := tx.Bucket(bucketOpen).Cursor()
	for k, v := c.First(); k != nil; k, v = c.First() {
		if _, err := openCRC(k, v); err != nil {
			if err := keepAside(tx, bucketOpen, k, v); err != nil {
				return err
			}
		}
		if err := c.Delete(); err != nil {
			return err
		}
	}
	return nil
}

// sealPart adds readings of one channel, boot and day to the file.
func (s *Store) sealPart(tx *bolt.Tx, ch *channel, rs []rec) (doubles int, err error) {
	blocks := tx.Bucket(bucketBlocks)
	blocks.FillPercent = fill
	old, last, err := s.overlapping(tx, ch, rs)
	if err != nil {
		return 0, err
	}
	fresh := without(rs, old)
	doubles = len(rs) - len(fresh)
	if len(fresh) == 0 {
		return doubles, nil
	}
	if err := s.addRolls(tx, ch.id, fresh); err != nil {
		return 0, err
	}
	key := blockKey{channel: ch.id, boot: rs[0].boot, mono: fresh[0].mono}
	joined := fresh
	if last != nil && last.joins(fresh) {
		// Joining rewrites the block under its own key: a reader that has passed it by holds the new readings already.
		joined, key = append(last.rs, fresh...), last.key
	} else {
		for blocks.Get(key.bytes()) != nil {
			key.serial++
		}
	}
	var block []byte
	block, ch.hint = s.coder.appendBlock(nil, key.bytes(), joined, ch.hint)
	return doubles, blocks.Put(key.bytes(), block)
}

// sealed is a block that is in the file, decoded.
type sealed struct {
	key blockKey
	rs  []rec
}

// joins tells whether fresh may follow in the same block.
func (b *sealed) joins(fresh []rec) bool {
	end := &b.rs[len(b.rs)-1]
	return len(b.rs)+len(fresh) <= fullBlock && end.day() == fresh[0].day() && end.compare(&fresh[0]) < 0
}

// overlapping returns the readings in the file that could be doubles of rs, and the newest block of the same day, nil
// if it is full, unreadable or not there.
func (s *Store) overlapping(tx *bolt.Tx, ch *channel, rs []rec) (old []rec, last *sealed, err error) {
	first, end := rs[0].mono, rs[len(rs)-1].mono
	from := blockKey{channel: ch.id, boot: rs[0].boot, mono: rs[0].day() * int64(day)}
	c := tx.Bucket(bucketBlocks).Cursor()
	for k, v := c.Seek(from.bytes()); k != nil && bytes.HasPrefix(k, from.bytes()[:8]); k, v = c.Next() {
		key, ok := parseBlockKey(k)
		if !ok || key.mono/int64(day) != rs[0].day() {
			break
		}
		h, headErr := readHead(v)
		if headErr != nil {
			continue // Check and Readings name it
		}
		last = nil
		overlaps := key.mono <= end && key.mono+int64(h.span) >= first
		if !overlaps && h.n+len(rs) > fullBlock {
			continue
		}
		block, readErr := readBlock(nil, k, v, key.boot)
		if readErr != nil {
			continue
		}
		if overlaps {
			old = append(old, block...)
		}
		last = &sealed{key, block}
	}
	slices.SortFunc(old, func(a, b rec) int { return a.compare(&b) })
	return old, last, nil
}

// without returns the readings of rs that are not in old; both are sorted.
func without(rs, old []rec) []rec {
	if len(old) == 0 {
		return rs
	}
	out := make([]rec, 0, len(rs))
	for i := range rs {
		for len(old) > 0 && old[0].compare(&rs[i]) < 0 {
			old = old[1:]
		}
		if len(old) == 0 || old[0].compare(&rs[i]) != 0 {
			out = append(out, rs[i])
		}
	}
	return out
}

// keepAside copies what cannot be read, so that somebody may look at it later.
func keepAside(tx *bolt.Tx, bucket, key, value []byte) error {
	return tx.Bucket(bucketDamaged).Put(damagedKey(bucket, key), bytes.Clone(value))
}

func damagedKey(bucket, key []byte) []byte { return append(append(bytes.Clone(bucket), 0), key...) }
