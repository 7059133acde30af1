package store

import (
	"bytes"
	"slices"

	bolt "go.etcd.io/bbolt"
)

// lostRange are the keys of a bucket from one up to another, of which some may be lost. A nil end has no bound.
type lostRange struct{ bucket, from, to []byte }

func (l lostRange) holds(k []byte) bool {
	return bytes.Compare(k, l.from) >= 0 && (l.to == nil || bytes.Compare(k, l.to) < 0)
}

// lostKey begins the keys of the bucket damaged that mark what may be lost.
var lostKey = []byte("lost\x00")

// markLost notes where keys of a bucket may be lost: there the levels need not count the same.
func (f *salvaged) markLost(tx *bolt.Tx) error {
	for _, l := range f.lost {
		k := append(bytes.Clone(lostKey), damagedKey(l.bucket, l.from)...)
		if err := tx.Bucket(bucketDamaged).Put(k, bytes.Clone(l.to)); err != nil {
			return err
		}
	}
	return nil
}

// mayMiss tells whether a salvage may have lost raw blocks or roll-ups of a channel and boot.
func mayMiss(tx *bolt.Tx, channel, boot uint32) bool {
	first := blockKey{channel: channel, boot: boot}.bytes()[:8]
	c := tx.Bucket(bucketDamaged).Cursor()
	for k, to := c.Seek(lostKey); bytes.HasPrefix(k, lostKey); k, to = c.Next() {
		bucket, from, _ := bytes.Cut(k[len(lostKey):], []byte{0})
		if !slices.Contains([]string{"", "blocks", "minutes", "hours", "days"}, string(bucket)) {
			continue
		}
		past := bytes.Compare(from[:min(8, len(from))], first) > 0
		before := len(to) > 0 && bytes.Compare(to, first) <= 0
		if !past && !before {
			return true
		}
	}
	return false
}
