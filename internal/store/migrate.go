package store

import (
	"fmt"
	"os"

	bolt "go.etcd.io/bbolt"
)

// step turns one key and value of a format into what the next format has in their place: nothing, one, or several, in
// any bucket. Its buckets are made as they are put into.
type step func(bucket, k, v []byte, put func(bucket, k, v []byte) error) error

// formats are those that a program knows: the one that it writes, and the steps from each older one to its next. A step
// is never changed once it has been released, and a golden file of each format is opened by a test for ever.
type formats struct {
	newest uint8
	steps  map[uint8]step // by the format from which they lead
}

// known are the formats of this program: so far there has been one.
var known = formats{newest: format}

// olderError says that the file is of a format before the newest.
type olderError struct {
	path   string
	format uint8
}

func (e *olderError) Error() string {
	return fmt.Sprintf("%s is of the older format %d", e.path, e.format)
}

// check tells whether a file that says its format as v can be used as it is.
func (f *formats) check(path string, v []byte) error {
	switch {
	case len(v) != 1 || v[0] == 0:
		return &damagedFileError{path, fmt.Errorf("it does not say its format")}
	case v[0] > f.newest:
		return fmt.Errorf("%s %w: it is of format %d and this program knows up to %d; use the newer program", path,
			ErrNewer, v[0], f.newest)
	case v[0] < f.newest:
		return &olderError{path, v[0]}
	}
	return nil
}

// migrate writes what a file of an older format holds into a new one of the newest, step by step, and puts that in its
// place once it passes Check. The old file is never written to: it stays beside the new one as its backup.
func migrate(path string, opt Options, from *olderError) (Notice, error) {
	for f := from.format; f < opt.formats.newest; f++ {
		if opt.formats.steps[f] == nil {
			return Notice{}, fmt.Errorf("%w, and there is no way from format %d to %d: use a program that has it", from, f, f+1)
		}
	}
	aside, err := asideName(path, fmt.Sprintf("format-%d", from.format))
	if err == nil {
		err = migrateInto(path, opt, from.format)
	}
	if err == nil {
		err = putInPlace(newName(path), path, aside)
	}
	if err != nil {
		return Notice{}, fmt.Errorf("migrate %s from format %d to %d: %w; the file is as it was", path, from.format,
			opt.formats.newest, err)
	}
	return Notice{SetAside: aside, Text: fmt.Sprintf("%s was migrated from format %d to %d; the old file is kept as %s",
		path, from.format, opt.formats.newest, aside)}, nil
}

func migrateInto(path string, opt Options, from uint8) error {
	w, err := newRewriter(path, *opt.bounds)
	if err != nil {
		return err
	}
	if err := w.migrate(path, opt, from); err != nil {
		w.drop()
		return err
	}
	err = w.db.Close()
	if err == nil {
		err = migrated(newName(path), opt)
	}
	if err != nil {
		_ = os.Remove(newName(path)) // or the next start does
	}
	return err
}

// migrate writes every key and value of an older file, each by all the steps that lead to the newest format.
func (w *rewriter) migrate(path string, opt Options, from uint8) error {
	old, err := openBolt(path, opt.OpenTimeout, *opt.bounds)
	if err != nil {
		return err
	}
	defer func() { _ = old.Close() }() // nothing was written
	put := w.put
	for f := opt.formats.newest; f > from; f-- {
		next, do := put, opt.formats.steps[f-1]
		put = func(bucket, k, v []byte) error { return do(bucket, k, v, next) }
	}
	err = guard(path, func() error {
		return old.View(func(tx *bolt.Tx) error {
			return tx.ForEach(func(name []byte, b *bolt.Bucket) error {
				if n := b.Sequence(); n > 0 {
					if err := w.number(name, n); err != nil {
						return err
					}
				}
				return b.ForEach(func(k, v []byte) error {
					if string(name) == string(bucketMeta) && string(k) == "format" {
						return nil // it is written at the end
					}
					return put(name, k, v)
				})
			})
		})
	})
	if err != nil {
		return err
	}
	if err := w.put(bucketMeta, []byte("format"), []byte{opt.formats.newest}); err != nil {
		return err
	}
	return w.commit()
}

// migrated opens the new file as the store will, and checks it.
func migrated(path string, opt Options) error {
	s, err := openFile(path, opt)
	if err != nil {
		return err
	}
	breaches, err := s.Check()
	if closeErr := s.db.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		return err
	}
	v := Verified{Breaches: breaches}
	return v.Sound("the migrated file")
}
