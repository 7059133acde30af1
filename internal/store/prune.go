package store

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"time"

	bolt "go.etcd.io/bbolt"
)

// pruneRows is how many blocks one transaction deletes: few, so that a commit of readings never waits long.
const pruneRows = 64

// keptKeys name, in the bucket meta, from where on raw readings and minutes of a boot are kept.
var keptKeys = [2]string{"raw-from", "minutes-from"}

func keptKey(i int, boot uint32) []byte {
	return binary.BigEndian.AppendUint32([]byte(keptKeys[i]), boot)
}

// keptFrom returns from which monotonic time on raw readings and minutes of a boot are kept; 0: all are.
func (s *Store) keptFrom(boot uint32) (kept [2]int64, err error) {
	err = s.view(func(tx *bolt.Tx) error {
		kept = keptIn(tx, boot)
		return nil
	})
	return kept, err
}

func keptIn(tx *bolt.Tx, boot uint32) (kept [2]int64) {
	for i := range kept {
		if v := tx.Bucket(bucketMeta).Get(keptKey(i, boot)); len(v) == 8 {
			kept[i] = int64(binary.BigEndian.Uint64(v))
		}
	}
	return kept
}

// Prune deletes raw readings and minute roll-ups that are older than the options keep them, by whole days of monotonic
// time, and returns how many blocks it deleted. Boots that are not placed are kept: nobody knows how old they are. It
// works in small transactions, so that it never stalls a commit. The file does not shrink; the space is used again.
func (s *Store) Prune(now time.Time) (deleted int, err error) {
	for i, keep := range [2]time.Duration{s.opt.KeepRaw, s.opt.KeepMinutes} {
		if keep <= 0 {
			continue
		}
		for _, boot := range s.Boots() {
			if boot.Zero.IsZero() {
				continue
			}
			limit := int64(now.Sub(boot.Zero)-keep) / int64(day) * int64(day)
			if limit <= 0 {
				continue
			}
			n, err := s.pruneBoot(i, boot.ID, limit)
			deleted += n
			if err != nil {
				return deleted, fmt.Errorf("delete old readings of boot %d: %w", boot.ID, err)
			}
		}
	}
	return deleted, nil
}

// pruneBoot deletes what level i (0 raw, 1 minutes) holds of a boot before limit, which is a whole number of days.
func (s *Store) pruneBoot(i int, boot uint32, limit int64) (deleted int, err error) {
	if kept, err := s.keptFrom(boot); err != nil || kept[i] >= limit {
		return 0, err
	}
	// The mark comes first: after a power cut in between, charts take the coarser level for all that may be gone.
	mark := keyValue{keptKey(i, boot), key64(uint64(limit))}
	if err := s.putMark(mark); err != nil {
		return 0, err
	}
	s.mu.Lock()
	ids := make([]uint32, 0, len(s.byID))
	for id := range s.byID {
		ids = append(ids, id)
	}
	s.mu.Unlock()
	for _, id := range ids {
		bucket, from, to := bucketBlocks, blockKey{channel: id, boot: boot}.bytes(),
			blockKey{channel: id, boot: boot, mono: limit}.bytes()
		if i == 1 {
			bucket, from = levels[0].bucket, rollKey{id, boot, 0}.bytes()
			to = rollKey{id, boot, uint32(limit / int64(day))}.bytes()
		}
		for {
			n, err := s.deleteSome(bucket, from, to)
			deleted += n
			if err != nil {
				return deleted, err
			}
			if n < pruneRows {
				break
			}
		}
	}
	return deleted, nil
}

// putMark writes where a boot is kept from, at the limit of the file too.
func (s *Store) putMark(mark keyValue) error {
	s.write.Lock()
	defer s.write.Unlock()
	if err := s.usable(); err != nil {
		return err
	}
	return s.updateFreeing(func(tx *bolt.Tx) error { return tx.Bucket(bucketMeta).Put(mark.key, mark.value) })
}

// deleteSome deletes up to pruneRows keys in [from, to) in one transaction.
func (s *Store) deleteSome(bucket, from, to []byte) (n int, err error) {
	s.write.Lock()
	defer s.write.Unlock()
	if err := s.usable(); err != nil {
		return 0, err
	}
	err = s.updateFreeing(func(tx *bolt.Tx) error {
		c := tx.Bucket(bucket).Cursor()
		for k, _ := c.Seek(from); k != nil && bytes.Compare(k, to) < 0 && n < pruneRows; k, _ = c.Seek(from) {
			if err := c.Delete(); err != nil {
				return err
			}
			n++
		}
		return nil
	})
	return n, err
}
