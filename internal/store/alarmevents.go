package store

import (
	"fmt"

	bolt "go.etcd.io/bbolt"

	"ductward/internal/alarm"
	"ductward/internal/journal"
)

// PutAlarmEvents writes alarms, new or changed, and the logbook's entries about what happened to them, all or nothing;
// they are on the card when it returns. So a power cut leaves no alarm without its entry, and none with two.
func (s *Store) PutAlarmEvents(as []alarm.Alarm, entries []journal.Entry) error {
	s.write.Lock()
	defer s.write.Unlock()
	if err := s.usable(); err != nil {
		return err
	}
	err := s.update(func(tx *bolt.Tx) error {
		for i := range as {
			if err := putRecord(tx.Bucket(bucketAlarms), []byte(as[i].ID), &as[i]); err != nil {
				return err
			}
		}
		b := tx.Bucket(bucketJournal)
		b.FillPercent = fill
		for i := range entries {
			n, err := b.NextSequence()
			if err == nil {
				err = putRecord(b, key64(n), &entries[i])
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("store alarms: %w", err)
	}
	return nil
}

func putRecord(b *bolt.Bucket, key []byte, v any) error {
	value, err := packRecord(key, v)
	if err != nil {
		return err
	}
	return b.Put(key, value)
}
