package store

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"runtime/debug"

	bolt "go.etcd.io/bbolt"
)

// damagedFileError says that the file as a whole cannot be used.
type damagedFileError struct {
	path string
	err  error
}

func (e *damagedFileError) Error() string { return fmt.Sprintf("%s is damaged: %v", e.path, e.err) }
func (e *damagedFileError) Unwrap() error { return e.err }

// guard turns a panic of bbolt over a page that makes no sense, or a fault on memory that is mapped past the end of a
// file that is too short, into an error.
func guard(path string, f func() error) (err error) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		if p := recover(); p != nil {
			err = &damagedFileError{path, fmt.Errorf("%v", p)}
		}
	}()
	return f()
}

// soundBranches tests the file before bbolt follows its page numbers: round a circle it would go until memory is used up.
func soundBranches(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer func() { _ = f.Close() }() // nothing was written
	info, err := f.Stat()
	if err != nil {
		return err
	}
	if err := quickWalk(f, info.Size()); err != nil {
		return &damagedFileError{path, err}
	}
	return nil
}

// isStub tells whether opening failed because the file is shorter than two pages. bbolt says so only in words.
func isStub(path string, err error) bool {
	if err == nil {
		return false
	}
	info, statErr := os.Stat(path)
	return statErr == nil && info.Mode().IsRegular() && info.Size() > 0 && info.Size() < 2*pageSize
}

// load reads the small things into memory: channels, boots, what is open and the newest readings.
func (s *Store) load() error {
	if err := soundBranches(s.path); err != nil {
		return err
	}
	if err := s.prepare(); err != nil {
		return err
	}
	return s.db.View(func(tx *bolt.Tx) error {
		if err := s.loadChannels(tx); err != nil {
			return err
		}
		if err := s.loadBoots(tx); err != nil {
			return err
		}
		s.loadLatest(tx) // first: what is open and no newer may be sealed already
		s.loadPieces(tx)
		s.loadPublished(tx)
		return nil
	})
}

// ours tells whether a file is a store of the format that this program writes; a file with nothing in it is not.
func (s *Store) ours(tx *bolt.Tx) error {
	meta := tx.Bucket(bucketMeta)
	if meta == nil {
		k, _ := tx.Cursor().First()
		if k == nil {
			return errEmpty
		}
		return fmt.Errorf("%s is not a ductward store: it holds %q; choose another data folder", s.path, k)
	}
	return s.opt.formats.check(s.path, meta.Get([]byte("format")))
}

// errEmpty says that a file has nothing in it, as one that has just been made.
var errEmpty = errors.New("there is nothing in it")

// prepare checks the format, and lays out the buckets of a new file.
func (s *Store) prepare() error {
	err := s.db.View(s.ours)
	if !errors.Is(err, errEmpty) {
		return err
	}
	if err := s.db.Update(func(tx *bolt.Tx) error {
		for _, name := range allBuckets {
			if _, err := tx.CreateBucketIfNotExists(name); err != nil {
				return err
			}
		}
		return tx.Bucket(bucketMeta).Put([]byte("format"), []byte{s.opt.formats.newest})
	}); err != nil {
		return err
	}
	return syncFolder(s.path)
}

func (s *Store) loadChannels(tx *bolt.Tx) error {
	return tx.Bucket(bucketChannels).ForEach(func(k, v []byte) error {
		if len(k) != 4 {
			return fmt.Errorf("bucket %q, key %x: is no channel number", bucketChannels, k)
		}
		ch := &channel{id: binary.BigEndian.Uint32(k), name: string(v), saved: true}
		s.byID[ch.id], s.byName[ch.name] = ch, ch
		return nil
	})
}

// loadPieces puts what the pieces hold back among the open readings. A piece that cannot be read is kept aside when
// the others are sealed.
func (s *Store) loadPieces(tx *bolt.Tx) {
	s.piece = 1
	c := tx.Bucket(bucketOpen).Cursor()
	for k, v := c.First(); k != nil; k, v = c.Next() {
		if len(k) == 8 {
			s.piece = binary.BigEndian.Uint64(k) + 1
		}
		err := readPiece(k, v, func(key blockKey, rs []rec) error {
			ch := s.byID[key.channel]
			if ch == nil {
				return fmt.Errorf("names channel %d, which has no name", key.channel)
			}
			for _, r := range rs {
				s.hold(ch, r)
			}
			ch.done = ch.open.len()
			ch.hint = ch.open.pack(&s.coder, ch.done, ch.hint)
			return nil
		})
		if err != nil {
			s.notice("bucket %q, piece %x: %v; the readings in it are lost", bucketOpen, k, err)
		}
	}
}

// loadLatest finds the newest sealed reading of each channel that has none open that is newer.
func (s *Store) loadLatest(tx *bolt.Tx) {
	c := tx.Bucket(bucketBlocks).Cursor()
	for _, ch := range s.byID {
		k, _ := seekBefore(c, blockKey{channel: ch.id + 1}.bytes())
		if key, ok := parseBlockKey(k); ok && key.channel == ch.id {
			s.latestOfDay(c, ch, key)
		}
	}
}

// latestOfDay decodes the blocks of a channel's last day that end last by their heads: one that begins early may end
// late, and two may end alike.
func (s *Store) latestOfDay(c *bolt.Cursor, ch *channel, last blockKey) {
	end := endOf(c, last.channel, last.boot).mono
	from := blockKey{channel: last.channel, boot: last.boot, mono: last.mono / int64(day) * int64(day)}.bytes()
	for k, v := c.Seek(from); k != nil && bytes.HasPrefix(k, from[:8]); k, v = c.Next() {
		key, ok := parseBlockKey(k)
		if h, err := readHead(v); !ok || err == nil && key.mono+int64(h.span) < end {
			continue
		}
		rs, err := readBlock(nil, k, v, key.boot)
		if err != nil {
			s.notice("bucket %q, %v (%q): %v; the readings in it are lost", bucketBlocks, key, ch.name, err)
			continue
		}
		if r := rs[len(rs)-1]; !ch.any || ch.latest.compare(&r) < 0 {
			ch.latest, ch.any = r, true
		}
	}
}
