package store

import (
	"encoding/binary"
	"fmt"
	"os"

	bolt "go.etcd.io/bbolt"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/journal"
)

// Breach is one place in the file that does not keep one of the invariants that the package comment numbers.
type Breach struct {
	Invariant   int
	Bucket, Key string
	Text        string
}

func (b Breach) String() string {
	return fmt.Sprintf("invariant %d: bucket %q, key %s: %s", b.Invariant, b.Bucket, b.Key, b.Text)
}

// mostBreaches bounds what Check returns; a file with more is damaged throughout.
const mostBreaches = 1000

// Check tests every invariant over what has been committed: first the pages, for which it holds up commits, then, if
// they are sound, the rest in one read transaction, during which the file may grow if readings are committed. It reads
// the whole file. The error says that it could not be tested, not that it is unsound.
func (s *Store) Check() ([]Breach, error) {
	c := checker{formats: s.opt.formats}
	if err := s.checkPages(&c); err != nil || len(c.breaches) > 0 {
		return c.breaches, err
	}
	err := s.view(func(tx *bolt.Tx) error {
		c.tx = tx
		if c.layout(); len(c.breaches) > 0 {
			return nil // the other tests need the buckets
		}
		c.names()
		c.pieces()
		c.blocks()
		c.rollUps()
		c.records()
		return nil
	})
	return c.breaches, err
}

// checker gathers breaches over one transaction.
type checker struct {
	tx       *bolt.Tx
	formats  *formats
	breaches []Breach
	channels map[uint32]string
	boots    map[uint32]bool
	days     map[dayOf]bool // days with raw readings; false: not all of them could be read
}

func (c *checker) breach(invariant int, bucket []byte, key, format string, args ...any) {
	if len(c.breaches) < mostBreaches {
		c.breaches = append(c.breaches, Breach{invariant, string(bucket), key, fmt.Sprintf(format, args...)})
	}
}

// layout tests invariant 1.
func (c *checker) layout() {
	for _, name := range allBuckets {
		if c.tx.Bucket(name) == nil {
			c.breach(1, name, "", "is not there")
		}
	}
	_ = c.tx.ForEach(func(name []byte, _ *bolt.Bucket) error {
		if !isBucket(name) {
			c.breach(1, name, "", "is no bucket of this format")
		}
		return nil
	})
	if meta := c.tx.Bucket(bucketMeta); meta != nil {
		if err := c.formats.check("the file", meta.Get([]byte("format"))); err != nil {
			c.breach(1, bucketMeta, "format", "%v", err)
		}
	}
}

// each goes over a bucket.
func (c *checker) each(bucket []byte, f func(k, v []byte)) {
	_ = c.tx.Bucket(bucket).ForEach(func(k, v []byte) error {
		f(k, v)
		return nil
	})
}

// names tests the first half of invariant 2, and reads the boots for invariant 8.
func (c *checker) names() {
	c.channels, c.boots = map[uint32]string{}, map[uint32]bool{}
	ids := map[string]uint32{}
	c.each(bucketChannels, func(k, v []byte) {
		if len(k) != 4 {
			c.breach(2, bucketChannels, fmt.Sprintf("%x", k), "is no channel number")
			return
		}
		id, name := binary.BigEndian.Uint32(k), string(v)
		if other, twice := ids[name]; twice || name == "" {
			c.breach(2, bucketChannels, fmt.Sprint(id), "has the name %q, as has channel %d", name, other)
		}
		ids[name], c.channels[id] = id, name
	})
	c.each(bucketBoots, func(k, v []byte) {
		var r bootRecord
		if len(k) != 4 {
			c.breach(8, bucketBoots, fmt.Sprintf("%x", k), "is no boot number")
			return
		}
		c.boots[binary.BigEndian.Uint32(k)] = true
		if err := unpackRecord(k, v, &r); err != nil {
			c.breach(9, bucketBoots, fmt.Sprint(binary.BigEndian.Uint32(k)), "%v", err)
		}
	})
}

// known tests that a key's channel has a name and its boot is there.
func (c *checker) known(bucket []byte, key string, channel, boot uint32) {
	if _, ok := c.channels[channel]; !ok {
		c.breach(2, bucket, key, "channel %d has no name", channel)
	}
	if !c.boots[boot] {
		c.breach(8, bucket, key, "boot %d is not known", boot)
	}
}

// records tests invariant 9.
func (c *checker) records() {
	test := func(bucket []byte, numbered bool, decode func(k, v []byte) error) {
		next := uint64(1)
		if c.tx.Bucket(bucket) == nil { // one that came later
			return
		}
		c.each(bucket, func(k, v []byte) {
			if numbered {
				if len(k) != 8 || binary.BigEndian.Uint64(k) != next {
					c.breach(9, bucket, fmt.Sprintf("%x", k), "should be number %d", next)
				}
				next++
			}
			if err := decode(k, v); err != nil {
				c.breach(9, bucket, fmt.Sprintf("%q", k), "%v", err)
			}
		})
	}
	test(bucketRuns, false, func(k, v []byte) error { _, err := unpackRun(k, v); return err })
	test(bucketJournal, true, func(k, v []byte) error { return unpackRecord(k, v, new(journal.Entry)) })
	test(bucketFindings, false, func(k, v []byte) error {
		return unpackRecord(k, v, &findingRecord{Finding: finding.Finding{}})
	})
	test(bucketAlarms, false, func(k, v []byte) error { return unpackRecord(k, v, new(alarm.Alarm)) })
	test(bucketBaselines, false, func(k, v []byte) error { return unpackRecord(k, v, new(Baseline)) })
	test(bucketOutbox, false, func(k, v []byte) error { _, err := unpackItem(k, v); return err })
	test(bucketShops, true, func(k, v []byte) error { return unpackRecord(k, v, new(Shop)) })
	if v := c.tx.Bucket(bucketMeta).Get(publishedKey); v != nil {
		if err := unpackRecord(publishedKey, v, new(Cursor)); err != nil {
			c.breach(9, bucketMeta, string(publishedKey), "%v", err)
		}
	}
}

// checkPages tests invariant 10, with the writer held up, so that the file stands still.
func (s *Store) checkPages(c *checker) error {
	s.write.Lock()
	defer s.write.Unlock()
	if err := s.usable(); err != nil {
		return err
	}
	f, err := os.Open(s.path)
	if err != nil {
		return fmt.Errorf("check the pages: %w", err)
	}
	defer func() { _ = f.Close() }() // nothing was written
	info, err := f.Stat()
	if err != nil {
		return fmt.Errorf("check the pages: %w", err)
	}
	walkPages(f, info.Size(), func(format string, args ...any) {
		c.breach(10, nil, "", format, args...)
		s.damage.CompareAndSwap(nil, &damagedFileError{s.path, fmt.Errorf(format, args...)})
	})
	return nil
}
