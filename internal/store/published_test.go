package store

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"ductward/internal/reading"
)

// What was published is noted with the next commit, which is there for the readings anyway, and by itself where there is
// nothing else to write.
func TestWhatWasPublishedIsNoted(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir, Options{})
	assert.Zero(t, s.Published())
	boot, err := s.NewBoot()
	require.NoError(t, err)
	at := Cursor{Boot: boot, Mono: time.Minute, Seq: 7}
	require.NoError(t, s.Append([]reading.Reading{{Channel: "main/trunk", Boot: boot, Mono: time.Minute, Seq: 7, Value: -812.5}}))
	s.SetPublished(at)
	before := writesOf(s)
	require.NoError(t, s.Commit())
	withNote := writesOf(s) - before
	require.NoError(t, s.Append([]reading.Reading{{Channel: "main/trunk", Boot: boot, Mono: 2 * time.Minute, Seq: 8, Value: -812.5}}))
	before = writesOf(s)
	require.NoError(t, s.Commit())
	assert.LessOrEqual(t, withNote, writesOf(s)-before+1, "writes of a commit with the note, and with the channel's name, against one without")
	require.NoError(t, s.Close())

	s = open(t, dir, Options{})
	assert.Equal(t, at, s.Published())
	s.SetPublished(Cursor{Boot: boot, Mono: 2 * time.Minute, Seq: 8})
	require.NoError(t, s.Close())
	s = open(t, dir, Options{})
	assert.Equal(t, uint64(8), s.Published().Seq)
	requireSound(t, s)

	require.NoError(t, s.db.Update(func(tx *bolt.Tx) error {
		v := append([]byte{}, tx.Bucket(bucketMeta).Get(publishedKey)...)
		v[3] ^= 1
		return tx.Bucket(bucketMeta).Put(publishedKey, v)
	}))
	breaches, err := s.Check()
	require.NoError(t, err)
	require.Len(t, breaches, 1)
	assert.Equal(t, 9, breaches[0].Invariant)
	require.NoError(t, s.Close())
	s = open(t, dir, Options{})
	assert.Zero(t, s.Published(), "one that cannot be read counts as none")
	assert.Contains(t, s.Notices()[0].Text, "published")
}

// writesOf counts the writes to the file.
func writesOf(s *Store) int64 {
	stats := s.db.Stats()
	return stats.TxStats.GetWrite()
}
