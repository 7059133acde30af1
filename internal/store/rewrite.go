package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"

	bolt "go.etcd.io/bbolt"
)

// newName is what a file is called that is to take the place of the store's: until it is whole it is under this name,
// and then it is renamed. Whatever bears it at a start was left by a power cut and is removed.
func newName(path string) string { return path + ".new" }

// rewriteBytes is how much one transaction of a new file writes: little, so that memory stays small, and so that a commit
// of readings never waits for a card that is busy with more than that.
const rewriteBytes = 1 << 20

// rewriter fills a new file with keys in any order; those of a bucket in their own order lie densest.
type rewriter struct {
	path string
	db   *bolt.DB
	tx   *bolt.Tx
	size int
}

// newRewriter makes a new file for the store at a path, under a name that nobody looks for.
func newRewriter(store string, b bounds) (*rewriter, error) {
	path := newName(store)
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, fmt.Errorf("make a new file: %w", err)
	}
	db, err := openBolt(path, 0, b)
	if err != nil {
		return nil, fmt.Errorf("make a new file: %w", err)
	}
	likeStore(path, store)
	w := &rewriter{path: path, db: db}
	err = w.write(func(tx *bolt.Tx) error {
		for _, name := range allBuckets {
			if _, err := tx.CreateBucketIfNotExists(name); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		w.drop()
		return nil, err
	}
	return w, nil
}

// write runs f in the transaction that is open.
func (w *rewriter) write(f func(*bolt.Tx) error) (err error) {
	if w.tx == nil {
		if w.tx, err = w.db.Begin(true); err != nil {
			return fmt.Errorf("write %s: %w", w.path, err)
		}
	}
	if err = f(w.tx); err == nil && w.size >= rewriteBytes {
		return w.commit()
	}
	if err != nil {
		return fmt.Errorf("write %s: %w", w.path, err)
	}
	return nil
}

// commit brings to the card what has been written.
func (w *rewriter) commit() error {
	if w.tx == nil {
		return nil
	}
	err := w.tx.Commit()
	w.tx, w.size = nil, 0
	if err != nil {
		return fmt.Errorf("write %s: %w", w.path, atCeiling(err))
	}
	return nil
}

func (w *rewriter) put(bucket, k, v []byte) error {
	w.size += len(k) + len(v)
	return w.write(func(tx *bolt.Tx) error {
		b, err := tx.CreateBucketIfNotExists(bucket)
		if err != nil {
			return err
		}
		b.FillPercent = fill
		return b.Put(bytes.Clone(k), bytes.Clone(v))
	})
}

func (w *rewriter) remove(bucket, k []byte) error {
	w.size += len(k)
	return w.write(func(tx *bolt.Tx) error { return tx.Bucket(bucket).Delete(k) })
}

// number sets from where a bucket's numbers go on.
func (w *rewriter) number(bucket []byte, sequence uint64) error {
	return w.write(func(tx *bolt.Tx) error {
		b, err := tx.CreateBucketIfNotExists(bucket)
		if err != nil {
			return err
		}
		return b.SetSequence(sequence)
	})
}

// drop gives the new file up.
func (w *rewriter) drop() {
	if w.tx != nil {
		_ = w.tx.Rollback() // it is thrown away
	}
	_ = w.db.Close()
	_ = os.Remove(w.path) // or the next start does
}

// copyAll copies every bucket of a state. Between two keys it looks at the context.
func (w *rewriter) copyAll(ctx context.Context, tx *bolt.Tx) error {
	return tx.ForEach(func(name []byte, b *bolt.Bucket) error {
		if err := w.number(name, b.Sequence()); err != nil {
			return err
		}
		return w.copyBucket(ctx, name, b)
	})
}

func (w *rewriter) copyBucket(ctx context.Context, name []byte, b *bolt.Bucket) error {
	return b.ForEach(func(k, v []byte) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		return w.put(name, k, v)
	})
}

// putInPlace renames a whole new file to path, so that a power cut leaves either the old or the new one there. What was
// at path goes on under the name aside; "" lets it go.
func putInPlace(from, path, aside string) error {
	if aside != "" {
		if err := keepAs(path, aside); err != nil {
			return err
		}
	}
	if err := os.Rename(from, path); err != nil {
		return fmt.Errorf("put the new file in its place: %w", err)
	}
	return syncFolder(path)
}

// clearLeftovers removes what a power cut left of a file that was never whole.
func clearLeftovers(path string) error {
	for _, left := range []string{newName(path), halfAside(path)} {
		if err := os.Remove(left); err != nil && !errors.Is(err, os.ErrNotExist) {
			return fmt.Errorf("remove what was left unfinished: %w", err)
		}
	}
	return nil
}
