package store

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"slices"

	bolt "go.etcd.io/bbolt"

	"ductward/internal/outbox"
)

// laterBuckets came after format 1 was released. A file without them is sound, and gets each with the first thing that is
// put into it.
var laterBuckets = [][]byte{bucketOutbox}

// isBucket tells whether a bucket belongs to a store.
func isBucket(name []byte) bool {
	same := func(b []byte) bool { return bytes.Equal(b, name) }
	return slices.ContainsFunc(allBuckets, same) || slices.ContainsFunc(laterBuckets, same)
}

// inOutbox changes the outbox in one transaction.
func (s *Store) inOutbox(f func(*bolt.Bucket) error) error {
	s.write.Lock()
	defer s.write.Unlock()
	if err := s.usable(); err != nil {
		return err
	}
	return s.update(func(tx *bolt.Tx) error {
		b, err := tx.CreateBucketIfNotExists(bucketOutbox)
		if err != nil {
			return err
		}
		return f(b)
	})
}

// PutItems writes letters on their way, new or changed; they are on the card when it returns.
func (s *Store) PutItems(list []outbox.Item) error {
	if len(list) == 0 {
		return nil
	}
	err := s.inOutbox(func(b *bolt.Bucket) error {
		for i := range list {
			k := key64(list[i].Number)
			v, err := packRecord(k, &list[i])
			if err == nil {
				err = b.Put(k, v)
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("store the outbox: %w", err)
	}
	return nil
}

// DropItems lets go of letters.
func (s *Store) DropItems(numbers []uint64) error {
	err := s.inOutbox(func(b *bolt.Bucket) error {
		for _, n := range numbers {
			if err := b.Delete(key64(n)); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("store the outbox: %w", err)
	}
	return nil
}

// Items returns the letters by their number. Those that cannot be read are named in the error.
func (s *Store) Items() (out []outbox.Item, err error) {
	there := false
	if err := s.view(func(tx *bolt.Tx) error {
		there = tx.Bucket(bucketOutbox) != nil
		return nil
	}); err != nil || !there {
		return nil, err
	}
	err = s.each(bucketOutbox, nil, func(k, v []byte) error {
		it, err := unpackItem(k, v)
		if err == nil {
			out = append(out, it)
		}
		return err
	})
	return out, err
}

func unpackItem(k, v []byte) (it outbox.Item, err error) {
	if len(k) != 8 {
		return it, errors.New("is no number")
	}
	if err := unpackRecord(k, v, &it); err != nil {
		return it, err
	}
	if n := binary.BigEndian.Uint64(k); n != it.Number {
		return it, fmt.Errorf("holds letter %d", it.Number)
	}
	return it, nil
}
