package store

import (
	bolt "go.etcd.io/bbolt"
)

// publishedKey is where the bucket meta holds up to where readings have been published.
var publishedKey = []byte("published")

// published is how far the readings have got that others are sent.
type published struct {
	at    Cursor
	saved Cursor // as the file has it
}

// SetPublished notes that every reading up to a place has been taken by those to whom it is sent. The note reaches the card
// with the next commit, and so costs none of its own; a power cut before that takes it back, never forward.
func (s *Store) SetPublished(at Cursor) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.published.at = at
}

// Published returns the place that was noted last; the zero value: none was.
func (s *Store) Published() Cursor {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.published.at
}

// loadPublished reads the note. One that is damaged counts as none.
func (s *Store) loadPublished(tx *bolt.Tx) {
	v := tx.Bucket(bucketMeta).Get(publishedKey)
	if v == nil {
		return
	}
	if err := unpackRecord(publishedKey, v, &s.published.at); err != nil {
		s.notice("bucket %q, key %q: %v; what was read before this start is not published any more", bucketMeta, publishedKey, err)
		s.published.at = Cursor{}
	}
	s.published.saved = s.published.at
}

// putPublished writes the note where it has changed.
func (s *Store) putPublished(tx *bolt.Tx) error {
	at, moved := s.publishedMoved()
	if !moved {
		return nil
	}
	v, err := packRecord(publishedKey, at)
	if err != nil {
		return err
	}
	tx.OnCommit(func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		s.published.saved = at
	})
	return tx.Bucket(bucketMeta).Put(publishedKey, v)
}

func (s *Store) publishedMoved() (at Cursor, moved bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.published.at, s.published.at != s.published.saved
}
