package store

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"maps"
	"slices"

	bolt "go.etcd.io/bbolt"
)

// mend makes a whole store of what was salvaged: what other keys need has its place, numbers are without gaps, roll-ups
// that are lost are made of the raw readings, and what may be lost is marked.
func (f *salvaged) mend() error {
	for _, part := range []func(*bolt.Tx) error{f.putFormat, f.nameAll, f.dropNameless, renumberJournals, f.rollAll, f.markLost} {
		if err := f.w.write(part); err != nil {
			return err
		}
		if err := f.w.commit(); err != nil {
			return err
		}
	}
	return nil
}

// putFormat says the format if the file did not any more. One that says an older format is migrated afterwards.
func (f *salvaged) putFormat(tx *bolt.Tx) error {
	if v := tx.Bucket(bucketMeta).Get([]byte("format")); len(v) == 1 && v[0] > 0 {
		return nil
	}
	return tx.Bucket(bucketMeta).Put([]byte("format"), []byte{f.knows.newest})
}

// owner is a channel and a boot that a key belongs to.
type owner struct{ channel, boot uint32 }

// owners lists the channels and boots that blocks and roll-ups belong to.
func owners(tx *bolt.Tx) map[owner]bool {
	all := map[owner]bool{}
	for _, bucket := range [][]byte{bucketBlocks, levels[0].bucket, levels[1].bucket, levels[2].bucket} {
		_ = tx.Bucket(bucket).ForEach(func(k, _ []byte) error {
			all[owner{binary.BigEndian.Uint32(k), binary.BigEndian.Uint32(k[4:])}] = true
			return nil
		})
	}
	_ = tx.Bucket(bucketOpen).ForEach(func(k, v []byte) error {
		return readPiece(k, v, func(id blockKey, _ []rec) error {
			all[owner{id.channel, id.boot}] = true
			return nil
		})
	})
	return all
}

// nameAll gives every channel that is used a name, and makes every boot known.
func (f *salvaged) nameAll(tx *bolt.Tx) error {
	names, boots := tx.Bucket(bucketChannels), tx.Bucket(bucketBoots)
	for o := range owners(tx) {
		if k := key32(o.channel); names.Get(k) == nil {
			if err := names.Put(k, fmt.Appendf(nil, "salvaged/channel %d", o.channel)); err != nil {
				return err
			}
		}
		k := key32(o.boot)
		if boots.Get(k) != nil {
			continue
		}
		v, err := packRecord(k, bootRecord{})
		if err == nil {
			err = boots.Put(k, v)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// dropNameless moves names that two channels have out of the way; the later one is salvaged under its number.
func (f *salvaged) dropNameless(tx *bolt.Tx) error {
	seen := map[string]bool{}
	var twice []uint32
	b := tx.Bucket(bucketChannels)
	_ = b.ForEach(func(k, v []byte) error {
		if seen[string(v)] {
			twice = append(twice, binary.BigEndian.Uint32(k))
		}
		seen[string(v)] = true
		return nil
	})
	for _, id := range twice {
		if err := b.Put(key32(id), fmt.Appendf(nil, "salvaged/channel %d", id)); err != nil {
			return err
		}
	}
	return nil
}

// renumberJournals closes the gaps in the buckets whose records are numbered.
func renumberJournals(tx *bolt.Tx) error {
	for _, bucket := range [][]byte{bucketJournal, bucketShops} {
		if err := renumber(tx.Bucket(bucket)); err != nil {
			return err
		}
	}
	return nil
}

func renumber(b *bolt.Bucket) error {
	var bodies [][]byte
	gaps := false
	_ = b.ForEach(func(k, v []byte) error {
		bodies = append(bodies, bytes.Clone(v[:len(v)-4]))
		gaps = gaps || binary.BigEndian.Uint64(k) != uint64(len(bodies))
		return nil
	})
	if gaps {
		for c, k := b.Cursor(), []byte(nil); ; {
			if k, _ = c.First(); k == nil {
				break
			}
			if err := c.Delete(); err != nil {
				return err
			}
		}
		for i, body := range bodies {
			k := key64(uint64(i + 1))
			if err := b.Put(k, sealCRC(k, body, 0)); err != nil {
				return err
			}
		}
	}
	return b.SetSequence(uint64(len(bodies)))
}

// rollAll makes the roll-ups that are missing of what is below them.
func (f *salvaged) rollAll(tx *bolt.Tx) error {
	var c coder
	for i := range levels {
		l := &levels[i]
		below := bucketBlocks
		if i > 0 {
			below = levels[i-1].bucket
		}
		missing := map[rollKey]bool{}
		_ = tx.Bucket(below).ForEach(func(k, _ []byte) error {
			key := rollAbove(i, k)
			if !missing[key] && tx.Bucket(l.bucket).Get(key.bytes()) == nil {
				missing[key] = true
			}
			return nil
		})
		keys := slices.SortedFunc(maps.Keys(missing), func(a, b rollKey) int { return bytes.Compare(a.bytes(), b.bytes()) })
		for _, key := range keys {
			rs := rebuild(tx, i, key)
			if len(rs) == 0 {
				continue
			}
			if err := tx.Bucket(l.bucket).Put(key.bytes(), c.appendRolls(nil, key.bytes(), rs)); err != nil {
				return err
			}
		}
	}
	return nil
}

// rollAbove returns the key of level i that counts what the level below holds under k.
func rollAbove(i int, k []byte) rollKey {
	if i == 0 {
		key, _ := parseBlockKey(k)
		return rollKey{key.channel, key.boot, uint32(key.mono / int64(day))}
	}
	key, _ := parseRollKey(k)
	finer := &levels[i-1]
	first := int64(key.period) * finer.slots * int64(finer.width)
	return rollKey{key.channel, key.boot, uint32(levels[i].period(levels[i].slot(first)))}
}
