package store

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	bolt "go.etcd.io/bbolt"

	"ductward/internal/alarm"
	"ductward/internal/outbox"
)

func TestTheOutboxIsKept(t *testing.T) {
	dir := t.TempDir()
	s, err := Open(dir, Options{})
	require.NoError(t, err)
	none, err := s.Items()
	require.NoError(t, err, "a file from before it was there has none")
	assert.Empty(t, none)
	list := []outbox.Item{
		{Number: 1, Target: "mail", State: outbox.Waiting, Letter: outbox.Letter{ID: "a", Kind: outbox.Alarm, At: noon, Alarm: &alarm.Alarm{ID: "x", State: alarm.ActiveUnacknowledged, Raised: noon}}},
		{Number: 2, Target: "syslog", State: outbox.Dead, Tries: 7, Last: "away", Ended: noon, Letter: outbox.Letter{ID: "b", Kind: outbox.Test}},
	}
	require.NoError(t, s.PutItems(list))
	require.NoError(t, s.Close())

	s, err = Open(dir, Options{})
	require.NoError(t, err)
	defer s.Close()
	got, err := s.Items()
	require.NoError(t, err)
	assert.Equal(t, list, got)
	breaches, err := s.Check()
	require.NoError(t, err)
	assert.Empty(t, breaches)
	require.NoError(t, s.DropItems([]uint64{1}))
	got, err = s.Items()
	require.NoError(t, err)
	assert.Equal(t, list[1:], got)
}

func TestALetterThatCannotBeReadIsNamed(t *testing.T) {
	s, err := Open(t.TempDir(), Options{})
	require.NoError(t, err)
	defer s.Close()
	require.NoError(t, s.PutItems([]outbox.Item{{Number: 1, Target: "mail"}, {Number: 2, Target: "mail"}}))
	require.NoError(t, s.db.Update(func(tx *bolt.Tx) error {
		b := tx.Bucket(bucketOutbox)
		return b.Put(key64(1), b.Get(key64(2)))
	}))
	got, err := s.Items()
	require.Error(t, err)
	require.Len(t, got, 1)
	assert.Equal(t, uint64(2), got[0].Number)
	breaches, err := s.Check()
	require.NoError(t, err)
	require.Len(t, breaches, 1)
	assert.Equal(t, 9, breaches[0].Invariant)
}

func TestTheOutboxIsSalvagedAndCompacted(t *testing.T) {
	dir := t.TempDir()
	s, err := Open(dir, Options{})
	require.NoError(t, err)
	require.NoError(t, s.PutItems([]outbox.Item{{Number: 1, Target: "mail"}}))
	require.NoError(t, s.Compact(t.Context()))
	_, err = s.Repair(&damagedFileError{s.path, assert.AnError})
	require.NoError(t, err)
	got, err := s.Items()
	require.NoError(t, err)
	assert.Len(t, got, 1)
	require.NoError(t, s.Close())
}
