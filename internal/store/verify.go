package store

import (
	"errors"
	"fmt"
	"os"
	"strings"

	bolt "go.etcd.io/bbolt"
	bolterrors "go.etcd.io/bbolt/errors"

	"ductward/internal/journal"
)

// verifyAs tests that a copy is sound and holds what it should.
func verifyAs(path string, want Tally) error {
	v, err := Verify(path)
	if err != nil {
		return err
	}
	if err := want.differs(v.Tally); err != nil {
		return fmt.Errorf("the copy is not what was copied: %w", err)
	}
	return v.Sound("the copy")
}

// Verified is what Verify found.
type Verified struct {
	Tally
	Format   uint8
	Breaches []Breach
	Entries  []journal.Entry // the logbook; short where it could not be read whole, which Breaches says
	Sent     []string        // heads of its chain that were sent in letters that are still kept, oldest first
}

// Sound is an error that names what is not; what is the name of the file, for the words.
func (v *Verified) Sound(what string) error {
	if len(v.Breaches) == 0 {
		return nil
	}
	const most = 5
	var words []string
	for _, b := range v.Breaches[:min(most, len(v.Breaches))] {
		words = append(words, b.String())
	}
	return fmt.Errorf("%s is damaged in %d places: %s", what, len(v.Breaches), strings.Join(words, "; "))
}

// IsDamage tells whether an error says that a file is damaged as a whole.
func IsDamage(err error) bool {
	var damage *damagedFileError
	return errors.As(err, &damage)
}

// Verify tests every invariant of a file that no daemon has open, a store's or a backup, and counts what it holds. It
// writes nothing. Of a file of an older format the pages alone are tested: the rest is when it is migrated. The error
// says that it could not be tested, or that it is damaged as a whole.
func Verify(path string) (v Verified, err error) {
	s, err := openCopy(path)
	if err != nil {
		return v, err
	}
	defer func() { _ = s.db.Close() }() // nothing was written
	err = s.view(func(tx *bolt.Tx) error {
		if meta := tx.Bucket(bucketMeta); meta != nil {
			if f := meta.Get([]byte("format")); len(f) == 1 {
				v.Format = f[0]
			}
		}
		v.Tally, err = tally(tx)
		return err
	})
	if err != nil {
		return v, err
	}
	if v.Format < s.opt.formats.newest {
		var c checker
		err = s.checkPages(&c)
		v.Breaches = c.breaches
		return v, err
	}
	if v.Breaches, err = s.Check(); err != nil || len(v.Breaches) > 0 {
		return v, err
	}
	v.Entries, err = s.Journal()
	if err != nil {
		return v, err
	}
	items, err := s.Items()
	for i := range items {
		if h := items[i].Letter.Head; h != "" {
			v.Sent = append(v.Sent, h)
		}
	}
	return v, err
}

// openCopy opens a file for reading alone. Its lock is bbolt's, which many readers may share.
func openCopy(path string) (*Store, error) {
	opt := Options{}.withDefaults()
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("open the store: %w", err)
	}
	if err := opt.bounds.opens(path); err != nil {
		return nil, err
	}
	s := &Store{path: path, opt: opt, bounds: *opt.bounds}
	err := guard(path, func() (err error) {
		s.db, err = bolt.Open(path, 0, &bolt.Options{Timeout: opt.OpenTimeout, PageSize: pageSize, ReadOnly: true})
		return err
	})
	if errors.Is(err, bolterrors.ErrTimeout) {
		return nil, inUse(path, "")
	}
	if err != nil {
		return nil, asDamage(path, err)
	}
	if err = soundBranches(path); err == nil {
		err = s.view(s.ours)
	}
	var older *olderError
	if err != nil && !errors.As(err, &older) {
		_ = s.db.Close() // the first error says what is wrong
		return nil, err
	}
	return s, nil
}
