package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	bolt "go.etcd.io/bbolt"
)

// What is free in a file is written on again, so it is worth nothing to be rid of a little of it. Compaction is worth
// its writing once half of a file, and more than a card's erase block or two, lies free for good: after retention has
// been shortened, or after a year of much faster sampling.
const (
	worthShare = 0.5
	worthBytes = 16 << 20
)

// WorthCompacting tells whether so much of a file lies free that a new one should be written.
func (p Space) WorthCompacting() bool {
	return p.Free >= worthBytes && float64(p.Free) >= worthShare*float64(p.Size)
}

// Compact writes all that the store holds into a new file and goes on with that, while readings are taken, committed and
// read. The copy is made of one state, then brought up to what was committed meanwhile, then checked; commits wait only
// while the last of them are caught up with and the files are exchanged. A power cut leaves the old file or the new one
// under the store's name, each with all that was acknowledged. When it returns with an error, the old file is in use
// unless the error says otherwise. The room of the old file is free when the last reader has let go of it.
func (s *Store) Compact(ctx context.Context) (err error) {
	if !s.rewriting.TryLock() {
		return errors.New("compact: the file is being written anew already")
	}
	defer s.rewriting.Unlock()
	if err := s.roomForAnother(); err != nil {
		return fmt.Errorf("compact: %w", err)
	}
	w, err := newRewriter(s.path, s.bounds)
	if err != nil {
		return fmt.Errorf("compact: %w", err)
	}
	if err = s.compactInto(ctx, w); err != nil {
		if s.usesOld(w) {
			w.drop()
		}
		return fmt.Errorf("compact: %w", err)
	}
	return nil
}

// usesOld tells whether the store has not gone over to the new file.
func (s *Store) usesOld(w *rewriter) bool {
	s.file.RLock()
	defer s.file.RUnlock()
	return s.db != w.db
}

func (s *Store) compactInto(ctx context.Context, w *rewriter) error {
	// The state that was copied stays open until the files are exchanged: what is in a later one at the same place in the
	// mapped file is then known to be the same without being looked at.
	copied, err := s.begin()
	if err != nil {
		return err
	}
	defer func() { _ = copied.Rollback() }() // nothing was written
	if err := s.guarded(func() error { return w.copyAll(ctx, copied) }); err != nil {
		return err
	}
	// Twice without holding anybody up: the first has minutes of commits to catch up with, the second those of seconds.
	for range 2 {
		now, err := s.beginAnother(ctx)
		if err != nil {
			return err
		}
		err = s.guarded(func() error { return w.catchUp(ctx, copied, now) })
		_ = copied.Rollback() // nothing was written
		copied = now
		if err != nil {
			return err
		}
	}
	if err := w.commit(); err != nil {
		return err
	}
	if err := s.guarded(func() error { return w.verify(copied) }); err != nil {
		return err
	}
	return s.goOver(ctx, w, copied)
}

// turnPatience is how long compaction waits for its turn to write before it gives up until another day.
const turnPatience = 10 * time.Second

// turnToWrite takes the write lock for a caller that has a read transaction open. A commit for which the file must be
// mapped anew waits for that transaction and has the lock meanwhile, and so has Close: waiting for them without end would
// be for ever.
func (s *Store) turnToWrite(ctx context.Context) error {
	for end := time.Now().Add(s.patience); !s.write.TryLock(); time.Sleep(time.Millisecond) {
		if err := ctx.Err(); err != nil {
			return err
		}
		if time.Now().After(end) {
			return errors.New("something else is writing and does not end")
		}
	}
	return nil
}

// beginAnother begins a read transaction for a caller that has one open already.
func (s *Store) beginAnother(ctx context.Context) (*bolt.Tx, error) {
	if err := s.turnToWrite(ctx); err != nil {
		return nil, err
	}
	defer s.write.Unlock()
	if err := s.usable(); err != nil {
		return nil, err
	}
	return s.begin()
}

// verify reads the new file back: its pages must be sound, and it must hold what the copied state holds.
func (w *rewriter) verify(copied *bolt.Tx) error {
	want, err := tally(copied)
	if err != nil {
		return err
	}
	if err := soundBranches(w.path); err != nil {
		return err
	}
	return guard(w.path, func() error {
		return w.db.View(func(tx *bolt.Tx) error {
			got, err := tally(tx)
			if err != nil {
				return err
			}
			return want.differs(got)
		})
	})
}

// goOver holds commits up, brings the new file up to the last of them, and exchanges the files.
func (s *Store) goOver(ctx context.Context, w *rewriter, copied *bolt.Tx) error {
	if err := s.turnToWrite(ctx); err != nil {
		return err
	}
	old, err := s.exchange(ctx, w, copied)
	s.write.Unlock()
	if err != nil && old == nil {
		return err
	}
	_ = copied.Rollback() // or closing the old file would wait for it
	return errors.Join(err, old.Close())
}

// exchange returns the old file once the new one is in use. The caller holds write.
func (s *Store) exchange(ctx context.Context, w *rewriter, copied *bolt.Tx) (old *bolt.DB, err error) {
	if err := s.usable(); err != nil {
		return nil, err
	}
	if s.bulk {
		return nil, errors.New("a record is being made in bulk, of which nothing is promised")
	}
	now, err := s.begin()
	if err != nil {
		return nil, err
	}
	err = s.guarded(func() error { return w.catchUp(ctx, copied, now) })
	_ = now.Rollback() // nothing was written
	if err == nil {
		err = w.commit()
	}
	if err != nil {
		return nil, err
	}
	return s.takeOver(w)
}

// takeOver gives the new file the store's name and goes on with it. The caller holds write.
func (s *Store) takeOver(w *rewriter) (old *bolt.DB, err error) {
	if err := os.Rename(w.path, s.path); err != nil {
		return nil, fmt.Errorf("put the new file in its place: %w", err)
	}
	// From here on there is no way back: the name is the new file's. Nothing is committed to it before the card knows.
	s.named = false
	s.file.Lock()
	old, s.db = s.db, w.db
	s.file.Unlock()
	if err := syncFolder(s.path); err != nil {
		return old, fmt.Errorf("the new file is in use: %w", err)
	}
	s.named = true
	return old, nil
}

// catchUp brings a file that holds what from holds to what now holds. Where both transactions have a value at the same
// place it has not changed, and bytes.Equal tells so without reading it: pages that a transaction sees are never written
// on.
func (w *rewriter) catchUp(ctx context.Context, from, now *bolt.Tx) error {
	return now.ForEach(func(name []byte, b *bolt.Bucket) error {
		if err := w.number(name, b.Sequence()); err != nil {
			return err
		}
		was := from.Bucket(name)
		if was == nil { // it came meanwhile, as the outbox does with the first letter
			return w.copyBucket(ctx, name, b)
		}
		return w.catchUpBucket(ctx, name, was.Cursor(), b.Cursor())
	})
}

func (w *rewriter) catchUpBucket(ctx context.Context, name []byte, was, is *bolt.Cursor) error {
	k0, v0 := was.First()
	k1, v1 := is.First()
	for k0 != nil || k1 != nil {
		if err := ctx.Err(); err != nil {
			return err
		}
		var err error
		order := bytes.Compare(k0, k1)
		switch {
		case k1 == nil || k0 != nil && order < 0:
			err = w.remove(name, k0)
			k0, v0 = was.Next()
		case k0 == nil || order > 0:
			err = w.put(name, k1, v1)
			k1, v1 = is.Next()
		default:
			if !bytes.Equal(v0, v1) {
				err = w.put(name, k1, v1)
			}
			k0, v0 = was.Next()
			k1, v1 = is.Next()
		}
		if err != nil {
			return err
		}
	}
	return nil
}
