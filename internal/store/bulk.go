package store

import "fmt"

// Bulk(true) is for the making of a record that could be made again, such as the history of a simulated plant: until
// Bulk(false), which brings everything to the card, nothing is promised. Commit only gathers, what is large enough is
// written without waiting for the card, and so are records. A process that is killed meanwhile loses what was not
// written; a power cut can damage the file.
func (s *Store) Bulk(on bool) error {
	s.write.Lock()
	defer s.write.Unlock()
	if err := s.usable(); err != nil {
		return err
	}
	s.bulk = on
	if on {
		s.db.NoSync = true
		return nil
	}
	if err := s.commit(false); err != nil {
		return err
	}
	// Commits are synced again only when all before them is on the card: they build on it.
	if err := s.db.Sync(); err != nil {
		return fmt.Errorf("bring the record to the card: %w", err)
	}
	s.db.NoSync = false
	return nil
}
