package store

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"ductward/internal/journal"
)

// A record that cannot be read is named, and those behind it come all the same; a bucket that a file does not have is empty.
func TestRecordsPassOverDamage(t *testing.T) {
	s := open(t, t.TempDir(), Options{})
	for _, note := range []string{"one", "two", "three"} {
		_, err := s.AddJournal(journal.Entry{Time: noon, Kind: journal.Other, Note: note})
		require.NoError(t, err)
	}
	require.NoError(t, s.db.Update(func(tx *bolt.Tx) error { return tx.Bucket(bucketJournal).Put(key64(2), []byte("torn")) }))
	var numbers []uint64
	damaged := 0
	for r, err := range s.Records("journal") {
		var damage *DamageError
		if errors.As(err, &damage) {
			damaged++
			continue
		}
		require.NoError(t, err)
		assert.Contains(t, string(r.JSON), "other")
		numbers = append(numbers, r.Number)
	}
	assert.Equal(t, []uint64{1, 3}, numbers)
	assert.Equal(t, 1, damaged)
	for range s.Records("outbox") {
		assert.Fail(t, "the file has none yet")
	}
	for _, err := range s.RollUps("weeks") {
		assert.Error(t, err)
	}
}
