package store

import (
	"errors"
	"fmt"

	bolt "go.etcd.io/bbolt"
)

// Damage returns what a transaction met since the file was opened that makes the file as a whole unfit, such as a page
// that makes no sense; nil if none did. Until Repair is called, what touches that page fails.
func (s *Store) Damage() error {
	if d := s.damage.Load(); d != nil {
		return d
	}
	return nil
}

// Repair sets the file aside because of damage, such as Damage tells, makes a new one of what can be salvaged, and goes on
// with that. Nothing that is in memory is lost. Commits wait meanwhile. If it cannot be done, the file is as it was.
func (s *Store) Repair(damage error) (Notice, error) {
	s.rewriting.Lock()
	defer s.rewriting.Unlock()
	s.write.Lock()
	defer s.write.Unlock()
	if err := s.usable(); err != nil {
		return Notice{}, err
	}
	told, err := s.repair(damage)
	if told.Text == "" {
		return Notice{}, fmt.Errorf("repair: %w", err)
	}
	// The files are exchanged, even where the card has not been told of it yet: the next commit tells it.
	s.damage.Store(nil)
	s.mu.Lock()
	s.notices = append(s.notices, told)
	s.mu.Unlock()
	return told, errors.Join(err, s.commit(false))
}

// repair is Repair for a caller that holds write.
func (s *Store) repair(damage error) (Notice, error) {
	aside, err := asideName(s.path, "damaged")
	if err != nil {
		return Notice{}, err
	}
	found, err := salvageInto(s.path, s.opt)
	if err != nil {
		return Notice{}, err
	}
	db, err := openBolt(newName(s.path), s.opt.OpenTimeout, s.bounds)
	if err != nil {
		return Notice{}, err
	}
	w := &rewriter{path: newName(s.path), db: db}
	if found.older != nil {
		err = db.View(s.takeBack)
	}
	if err == nil {
		err = db.Update(s.putMemory)
	}
	if err == nil {
		err = keepAs(s.path, aside)
	}
	if err != nil {
		w.drop()
		return Notice{}, err
	}
	old, err := s.takeOver(w)
	if old == nil {
		w.drop()
		return Notice{}, err
	}
	s.forgetPieces()
	// The old file is closed when its last reader lets go of it, and that one may wait for this commit.
	s.closing.Go(func() { _ = old.Close() })
	return Notice{SetAside: aside, Damaged: true, Text: fmt.Sprintf("%v; it was set aside as %s and a new store was begun%s", damage, aside,
		found)}, err
}

// takeBack takes what is in pieces into memory, from which it was let go if the commit that is lost has sealed it.
func (s *Store) takeBack(tx *bolt.Tx) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	doubles := s.doubles
	defer func() { s.doubles = doubles }() // what is open still was not sent twice
	return tx.Bucket(bucketOpen).ForEach(func(k, v []byte) error {
		return readPiece(k, v, func(key blockKey, rs []rec) error {
			if ch := s.byID[key.channel]; ch != nil {
				for _, r := range rs {
					s.hold(ch, r)
				}
			}
			return nil
		})
	})
}

// putMemory writes what memory knows better than a damaged file: the names of channels and the boots. The pieces go: all
// that is in them is in memory.
func (s *Store) putMemory(tx *bolt.Tx) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	for id, ch := range s.byID {
		if err := tx.Bucket(bucketChannels).Put(key32(id), []byte(ch.name)); err != nil {
			return err
		}
	}
	for id, zero := range s.boots {
		v, err := packRecord(key32(id), recordOf(zero))
		if err == nil {
			err = tx.Bucket(bucketBoots).Put(key32(id), v)
		}
		if err != nil {
			return err
		}
	}
	return dropPieces(tx)
}

// forgetPieces makes the next commit write every open reading.
func (s *Store) forgetPieces() {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, ch := range s.byID {
		ch.open.unpack()
		ch.done, ch.saved = 0, true
	}
	s.piece = 1
}
