package store

import (
	"errors"
	"fmt"
	"slices"

	bolt "go.etcd.io/bbolt"

	"ductward/internal/steady"
)

const (
	pieceVersion = 2
	// sealAt is how many open readings of one channel are enough for a block. To seal is to write a hundred pages, so it
	// waits until no block need be written again.
	sealAt = fullBlock
)

// batch is what one commit writes of one channel.
type batch struct {
	ch  *channel
	all held  // every open reading; Append may add behind it meanwhile, never within
	new []rec // those of them that are in no piece
}

// Commit brings every reading and run that was handed over before it to the card, and returns when they are there.
func (s *Store) Commit() error {
	s.write.Lock()
	defer s.write.Unlock()
	if err := s.usable(); err != nil {
		return err
	}
	if s.bulk && !s.full() {
		return nil
	}
	return s.commit(false)
}

// full tells whether memory for open readings is used up.
func (s *Store) full() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.open >= s.opt.MaxOpen || len(s.runs) >= fullRuns
}

// Seal is Commit that also seals what is open, whatever the hour. Nobody needs to call it to have readings kept.
func (s *Store) Seal() error {
	s.write.Lock()
	defer s.write.Unlock()
	if err := s.usable(); err != nil {
		return err
	}
	return s.commit(true)
}

// commit is Commit or Seal for a caller that holds write.
func (s *Store) commit(seal bool) error {
	bs, runs, sealing := s.batches(seal)
	if _, moved := s.publishedMoved(); len(bs) == 0 && len(runs) == 0 && len(s.owed) == 0 && !moved {
		return nil
	}
	if sealing {
		defer s.sealEnds()
	}
	doubles := 0
	err := s.update(func(tx *bolt.Tx) (err error) {
		if err = s.putBeside(tx, bs, runs); err != nil {
			return err
		}
		if sealing {
			doubles, err = s.seal(tx, bs)
			return err
		}
		return s.putPiece(tx, bs)
	})
	if err != nil && sealing && !seal && s.pieceInstead(bs, runs) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("commit readings: %w", err)
	}
	s.committed(bs, len(runs), sealing, doubles)
	return nil
}

// pieceInstead writes what is open as a piece where it could not be sealed, for which a card that is nearly full may have
// no room, and tells whether that is enough for now: not once memory for open readings is used up.
func (s *Store) pieceInstead(bs []batch, runs []steady.Run) bool {
	if s.full() || s.Damage() != nil {
		return false
	}
	err := s.update(func(tx *bolt.Tx) error {
		if err := s.putBeside(tx, bs, runs); err != nil {
			return err
		}
		return s.putPiece(tx, bs)
	})
	if err != nil {
		return false
	}
	s.committed(bs, len(runs), false, 0)
	return true
}

// batches takes what there is to write, and tells whether it is time to seal.
func (s *Store) batches(seal bool) (bs []batch, runs []steady.Run, sealing bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	fresh := false
	sealing = s.epoch != s.current || s.open >= s.opt.MaxOpen
	for _, ch := range s.byID {
		n := ch.open.len()
		if n == 0 {
			continue
		}
		all := ch.open.snapshot()
		bs = append(bs, batch{ch: ch, all: all, new: all.from(ch.done)})
		fresh = fresh || ch.done < n
		sealing = sealing || n >= sealAt
	}
	if seal && len(bs) > 0 {
		fresh, sealing = true, true
	}
	if !fresh {
		bs, sealing = nil, false
	}
	if sealing {
		s.sealing++
	}
	// The order decides which page is touched first, and so must not differ from one time to the next.
	slices.SortFunc(bs, func(a, b batch) int { return int(int64(a.ch.id) - int64(b.ch.id)) })
	return bs, s.runs[:len(s.runs):len(s.runs)], sealing
}

func (s *Store) sealEnds() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.sealing++
}

// committed marks in memory what is now in the file.
func (s *Store) committed(bs []batch, runs int, sealed bool, doubles int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.runs = append([]steady.Run(nil), s.runs[runs:]...)
	s.retry = 0
	s.doubles += uint64(doubles)
	for _, b := range bs {
		b.ch.saved = true
		if !sealed {
			b.ch.done = b.all.len()
			b.ch.hint = b.ch.open.pack(&s.coder, b.ch.done, b.ch.hint)
			continue
		}
		s.open -= b.all.len()
		b.ch.open.drop(b.all.len())
		b.ch.done = 0
		b.ch.remember()
		b.ch.late = b.ch.late && b.ch.open.len() > 0
	}
	if sealed {
		s.piece = 1
		s.newEpoch()
	}
}

// newEpoch begins a new day at the first reading that is still open. The caller holds mu.
func (s *Store) newEpoch() {
	s.epoch = s.current
	for _, ch := range s.byID {
		for _, r := range ch.open.tail { // nothing is packed right after sealing
			if at := r.dayOfBoot(); at != s.current {
				s.epoch = at
				return
			}
		}
	}
}

// update runs f in a write transaction and turns a panic over a damaged page into an error. The caller holds write.
func (s *Store) update(f func(*bolt.Tx) error) error {
	err := s.updateFreeing(func(tx *bolt.Tx) error {
		if err := s.writes(tx); err != nil {
			return err
		}
		if err := s.payOwed(tx); err != nil {
			return err
		}
		return f(tx)
	})
	if err == nil {
		clear(s.owed)
	}
	return err
}

// updateFreeing is update for what makes room: it is done at the limit as well. The caller holds write.
func (s *Store) updateFreeing(f func(*bolt.Tx) error) error {
	if !s.named { // what is committed under a name that the card may forget is lost with it
		if err := syncFolder(s.path); err != nil {
			return err
		}
		s.named = true
	}
	return atCeiling(s.guarded(func() error {
		return s.db.Update(func(tx *bolt.Tx) error {
			grows(tx)
			return s.lettingGo(f)(tx)
		})
	}))
}

// guarded is guard that remembers damage, so that Repair is called for.
func (s *Store) guarded(f func() error) error {
	err := guard(s.path, f)
	var damage *damagedFileError
	if errors.As(err, &damage) {
		s.damage.CompareAndSwap(nil, damage)
	}
	return err
}

// putBeside writes what a commit brings to the card beside readings.
func (s *Store) putBeside(tx *bolt.Tx, bs []batch, runs []steady.Run) error {
	return errors.Join(putRuns(tx, runs), saveChannels(tx, bs), s.putPublished(tx))
}

func saveChannels(tx *bolt.Tx, bs []batch) error {
	b := tx.Bucket(bucketChannels)
	for _, x := range bs {
		if x.ch.saved {
			continue
		}
		if err := b.Put(key32(x.ch.id), []byte(x.ch.name)); err != nil {
			return err
		}
	}
	return nil
}

// putPiece writes the new readings of all channels under one key: a commit then touches one leaf, not one a channel.
func (s *Store) putPiece(tx *bolt.Tx, bs []batch) error {
	if len(bs) == 0 {
		return nil
	}
	key := key64(s.piece)
	p := []byte{pieceVersion}
	var before []rec
	for _, b := range bs {
		for rs := sorted(b.new); len(rs) > 0; {
			n := blockLength(rs)
			p, b.ch.hint = s.coder.appendPart(p, b.ch.id, rs[:n], before, b.ch.hint)
			before, rs = rs[:n], rs[n:]
		}
	}
	bucket := tx.Bucket(bucketOpen)
	bucket.FillPercent = fill
	if err := bucket.Put(key, sealCRC(key, p, 0)); err != nil {
		return err
	}
	tx.OnCommit(func() { s.piece++ })
	return nil
}

// sorted returns rs in order without doubles; rs itself is not changed.
func sorted(rs []rec) []rec {
	for i := 1; i < len(rs); i++ {
		if rs[i-1].compare(&rs[i]) >= 0 {
			out := slices.Clone(rs)
			slices.SortStableFunc(out, func(a, b rec) int { return a.compare(&b) })
			return slices.CompactFunc(out, func(a, b rec) bool { return a.compare(&b) == 0 })
		}
	}
	return rs
}

// blockLength returns how many readings from the first on may share a block.
func blockLength(rs []rec) int {
	limit := min(len(rs), fullBlock)
	boot, d := rs[0].boot, rs[0].day()
	for n := 1; n < limit; n++ {
		if rs[n].boot != boot || rs[n].day() != d {
			return n
		}
	}
	return limit
}
