package store

import (
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	bolt "go.etcd.io/bbolt"
)

// bootRecord is the placement of one boot.
type bootRecord struct {
	Placed bool  `json:"placed"`
	Zero   int64 `json:"zero_unix_ns,omitempty"` // civil time of the boot's monotonic zero
}

func recordOf(zero time.Time) bootRecord {
	if zero.IsZero() {
		return bootRecord{}
	}
	return bootRecord{Placed: true, Zero: zero.UnixNano()}
}

func (r bootRecord) time() time.Time {
	if !r.Placed {
		return time.Time{}
	}
	return time.Unix(0, r.Zero).UTC()
}

// Boot is one life of the board. Zero is the civil time of its monotonic zero; the zero time if it was never placed.
type Boot struct {
	ID   uint32
	Zero time.Time
}

// NewBoot numbers a new boot. The number is on the card when it returns, and is never given out again. Where the card takes
// nothing, the number comes with an error that wraps ErrOwed: the boot is known, readings of it are held in memory, and its
// record is written with the first of them; should the power go before that, nothing was stored under it.
func (s *Store) NewBoot() (uint32, error) {
	s.write.Lock()
	defer s.write.Unlock()
	s.mu.Lock()
	id := uint32(1)
	for boot := range s.boots {
		if boot+1 > id || boot == math.MaxUint32 {
			id = boot + 1 // 0 after the last number
		}
		if id == 0 {
			break
		}
	}
	s.mu.Unlock()
	if id == 0 {
		return 0, errors.New("number a new boot: all numbers are used up")
	}
	err := s.putBoot(id, bootRecord{})
	if err == nil || errors.Is(err, ErrClosed) || s.Damage() != nil {
		return id, err
	}
	return id, s.owe(id, time.Time{}, err)
}

// owe keeps in memory what cannot be written of a boot, and says so. The caller holds write.
func (s *Store) owe(id uint32, zero time.Time, err error) error {
	if s.owed == nil {
		s.owed = map[uint32]struct{}{}
	}
	s.owed[id] = struct{}{}
	s.mu.Lock()
	s.boots[id] = zero
	s.mu.Unlock()
	return fmt.Errorf("boot %d %w: %w", id, ErrOwed, err)
}

// payOwed writes the boots that are owed. The caller holds write.
func (s *Store) payOwed(tx *bolt.Tx) error {
	for id := range s.owed {
		s.mu.Lock()
		zero := s.boots[id]
		s.mu.Unlock()
		key := key32(id)
		v, err := packRecord(key, recordOf(zero))
		if err == nil {
			err = tx.Bucket(bucketBoots).Put(key, v)
		}
		if err != nil {
			return fmt.Errorf("store boot %d: %w", id, err)
		}
	}
	return nil
}

// PlaceBoot sets the civil time of a boot's monotonic zero, and so the time of every reading of that boot, those from
// before the clock was trusted among them. A boot may be placed again when the clock turns out to have been wrong. Where
// the card takes nothing, the error wraps ErrOwed: the boot is placed, and its record is written with whatever is written
// next; should the power go before that, it is as it was.
func (s *Store) PlaceBoot(boot uint32, monoZero time.Time) error {
	if y := monoZero.Year(); y < 1678 || y > 2261 {
		return fmt.Errorf("place boot %d: year %d is outside 1678 to 2261", boot, y) // the range of int64 nanoseconds
	}
	s.write.Lock()
	defer s.write.Unlock()
	s.mu.Lock()
	_, known := s.boots[boot]
	s.mu.Unlock()
	if !known {
		return fmt.Errorf("place boot %d: it is not known: take a number from NewBoot", boot)
	}
	err := s.putBoot(boot, recordOf(monoZero))
	if err == nil || errors.Is(err, ErrClosed) {
		return err
	}
	return s.owe(boot, recordOf(monoZero).time(), err)
}

// addBoot makes a boot of a given number.
func (s *Store) addBoot(id uint32, zero time.Time) error {
	s.write.Lock()
	defer s.write.Unlock()
	return s.putBoot(id, recordOf(zero))
}

// putBoot writes a boot's record. The caller holds write.
func (s *Store) putBoot(id uint32, r bootRecord) error {
	if err := s.usable(); err != nil {
		return err
	}
	key := key32(id)
	v, err := packRecord(key, r)
	if err == nil {
		err = s.update(func(tx *bolt.Tx) error { return tx.Bucket(bucketBoots).Put(key, v) })
	}
	if err != nil {
		return fmt.Errorf("store boot %d: %w", id, err)
	}
	s.mu.Lock()
	s.boots[id] = r.time()
	s.mu.Unlock()
	return nil
}

// Boots returns all boots, oldest first.
func (s *Store) Boots() []Boot {
	s.mu.Lock()
	defer s.mu.Unlock()
	out := make([]Boot, 0, len(s.boots))
	for id, zero := range s.boots {
		out = append(out, Boot{id, zero})
	}
	sortBoots(out)
	return out
}

// loadBoots reads all boots. One whose record is damaged is known and not placed.
func (s *Store) loadBoots(tx *bolt.Tx) error {
	return tx.Bucket(bucketBoots).ForEach(func(k, v []byte) error {
		if len(k) != 4 {
			return fmt.Errorf("bucket %q, key %x: is no boot number", bucketBoots, k)
		}
		var r bootRecord
		id := binary.BigEndian.Uint32(k)
		if err := unpackRecord(k, v, &r); err != nil {
			s.notice("bucket %q, boot %d: %v; its readings have no time until it is placed again", bucketBoots, id, err)
			r = bootRecord{}
		}
		s.boots[id] = r.time()
		return nil
	})
}

func sortBoots(boots []Boot) {
	slices.SortFunc(boots, func(a, b Boot) int { return cmp.Compare(a.ID, b.ID) })
}
