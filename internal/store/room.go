package store

import (
	"fmt"
	"path/filepath"
)

// roomBeside is what a compaction leaves free on the card for what is committed meanwhile, bytes.
const roomBeside = 8 << 20

// roomForAnother refuses to begin what would fill the card, so that readings could not be committed meanwhile.
func (s *Store) roomForAnother() error {
	space, err := s.Space()
	if err != nil {
		return err
	}
	need := space.Size - space.Free + roomBeside
	dir := filepath.Dir(s.path)
	if free, known := s.room(dir); known && free < need {
		return fmt.Errorf("it needs %d MB on the card beside the file that is there, and %d MB are free: make room, such as "+
			"by removing files that were set aside in %s", (need+1<<20-1)>>20, free>>20, dir)
	}
	return nil
}
