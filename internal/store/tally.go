package store

import (
	"encoding/binary"
	"fmt"
	"hash/crc32"

	bolt "go.etcd.io/bbolt"
)

// Tally is what one state of a store holds. Two files with the same tally hold the same.
type Tally struct {
	Keys     map[string]int64 `json:"keys"`     // by bucket
	Readings int64            `json:"readings"` // in blocks and pieces
	Sum      uint32           `json:"sum"`      // CRC-32C of every bucket's name and number, key and value, with their sizes
}

// Journal returns how many entries the logbook has.
func (t Tally) Journal() int64 { return t.Keys[string(bucketJournal)] }

// Equal tells whether both hold the same.
func (t Tally) Equal(u Tally) bool {
	if t.Readings != u.Readings || t.Sum != u.Sum || len(t.Keys) != len(u.Keys) {
		return false
	}
	for bucket, n := range t.Keys {
		if u.Keys[bucket] != n {
			return false
		}
	}
	return true
}

// differs says how u differs from t, which is what was meant to be copied.
func (t Tally) differs(u Tally) error {
	for bucket, n := range t.Keys {
		if u.Keys[bucket] != n {
			return fmt.Errorf("bucket %q has %d keys, and should have %d", bucket, u.Keys[bucket], n)
		}
	}
	if t.Readings != u.Readings {
		return fmt.Errorf("it has %d readings, and should have %d", u.Readings, t.Readings)
	}
	if !t.Equal(u) {
		return fmt.Errorf("its sum is %08x, and should be %08x", u.Sum, t.Sum)
	}
	return nil
}

// tally counts what a state holds. What cannot be decoded counts as a key with no readings.
func tally(tx *bolt.Tx) (Tally, error) {
	t := Tally{Keys: map[string]int64{}}
	add := func(bs ...[]byte) {
		for _, b := range bs {
			t.Sum = crc32.Update(t.Sum, castagnoli, binary.LittleEndian.AppendUint32(nil, uint32(len(b))))
			t.Sum = crc32.Update(t.Sum, castagnoli, b)
		}
	}
	err := tx.ForEach(func(name []byte, b *bolt.Bucket) error {
		add(name, key64(b.Sequence()))
		t.Keys[string(name)] = 0
		return b.ForEach(func(k, v []byte) error {
			add(k, v)
			t.Keys[string(name)]++
			t.Readings += readingsIn(name, k, v)
			return nil
		})
	})
	return t, err
}

// readingsIn counts the readings under one key.
func readingsIn(bucket, k, v []byte) (n int64) {
	switch string(bucket) {
	case string(bucketBlocks):
		if h, err := readHead(v); err == nil {
			n = int64(h.n)
		}
	case string(bucketOpen):
		_ = readPiece(k, v, func(_ blockKey, rs []rec) error { // Check names what is wrong with it
			n += int64(len(rs))
			return nil
		})
	}
	return n
}
