package store

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"time"

	bolt "go.etcd.io/bbolt"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/journal"
)

// DamageError names one key that cannot be read. Readings and the lists of records return it beside what can be read.
type DamageError struct {
	Bucket, Key string
	Err         error
}

func (e *DamageError) Error() string {
	return fmt.Sprintf("bucket %q, key %s: %v", e.Bucket, e.Key, e.Err)
}

func (e *DamageError) Unwrap() error { return e.Err }

// put writes records so that they are on the card when it returns.
func (s *Store) put(bucket []byte, kvs []keyValue) error {
	if len(kvs) == 0 {
		return nil
	}
	s.write.Lock()
	defer s.write.Unlock()
	if err := s.usable(); err != nil {
		return err
	}
	return s.update(func(tx *bolt.Tx) error {
		b := tx.Bucket(bucket)
		for _, kv := range kvs {
			if err := b.Put(kv.key, kv.value); err != nil {
				return err
			}
		}
		return nil
	})
}

// add writes a record under the next number.
func (s *Store) add(bucket []byte, v any) (number uint64, err error) {
	s.write.Lock()
	defer s.write.Unlock()
	if err := s.usable(); err != nil {
		return 0, err
	}
	err = s.update(func(tx *bolt.Tx) error {
		b := tx.Bucket(bucket)
		b.FillPercent = fill
		if number, err = b.NextSequence(); err != nil {
			return err
		}
		key := key64(number)
		value, err := packRecord(key, v)
		if err != nil {
			return err
		}
		return b.Put(key, value)
	})
	return number, err
}

// each decodes the records under prefix in order of their keys. What cannot be decoded is left out and named in the
// error.
func (s *Store) each(bucket, prefix []byte, decode func(key, value []byte) error) error {
	var errs []error
	for from := prefix; ; {
		page, err := s.page(bucket, prefix, from)
		if err != nil {
			return errors.Join(append(errs, err)...)
		}
		if len(page) == 0 {
			return errors.Join(errs...)
		}
		for _, kv := range page {
			if err := decode(kv.key, kv.value); err != nil {
				errs = append(errs, &DamageError{string(bucket), fmt.Sprintf("%q", kv.key), err})
			}
		}
		from = append(page[len(page)-1].key, 0)
	}
}

// AddJournal writes an entry, which is on the card when it returns, and returns its number.
func (s *Store) AddJournal(e journal.Entry) (uint64, error) {
	n, err := s.add(bucketJournal, e)
	if err != nil {
		return 0, fmt.Errorf("write the journal: %w", err)
	}
	return n, nil
}

// Journal returns all entries in the order in which they were written. Entries that cannot be read are named in the
// error, and the others returned beside it.
func (s *Store) Journal() (out []journal.Entry, err error) {
	err = s.each(bucketJournal, nil, func(k, v []byte) error {
		var e journal.Entry
		if err := unpackRecord(k, v, &e); err != nil {
			return err
		}
		out = append(out, e)
		return nil
	})
	return out, err
}

// findingRecord is a finding with its unknown numbers as null.
type findingRecord struct {
	finding.Finding
	Size, SizeLow, SizeHigh, Confidence number
}

func findingKey(collector string, f *finding.Finding) []byte {
	k := append([]byte(collector), 0)
	// Shifted so that times before 1970, which an unset clock gives, sort first.
	k = binary.BigEndian.AppendUint64(k, uint64(f.Raised.UnixNano())^1<<63)
	return append(k, f.ID...)
}

// PutFindings writes findings of a collector, new or changed; they are on the card when it returns. A finding is the
// one with the same ID and time of raising.
func (s *Store) PutFindings(collector string, fs []finding.Finding) error {
	kvs := make([]keyValue, 0, len(fs))
	for i := range fs {
		f := &fs[i]
		k := findingKey(collector, f)
		v, err := packRecord(k, findingRecord{*f, number(f.Size), number(f.SizeLow), number(f.SizeHigh),
			number(f.Confidence)})
		if err != nil {
			return fmt.Errorf("store finding %q: %w", f.ID, err)
		}
		kvs = append(kvs, keyValue{k, v})
	}
	if err := s.put(bucketFindings, kvs); err != nil {
		return fmt.Errorf("store findings of %q: %w", collector, err)
	}
	return nil
}

// Findings returns the findings of a collector by the time at which they were raised.
func (s *Store) Findings(collector string) (out []finding.Finding, err error) {
	err = s.each(bucketFindings, append([]byte(collector), 0), func(k, v []byte) error {
		var r findingRecord
		if err := unpackRecord(k, v, &r); err != nil {
			return err
		}
		f := r.Finding
		f.Size, f.SizeLow, f.SizeHigh = float64(r.Size), float64(r.SizeLow), float64(r.SizeHigh)
		f.Confidence = float64(r.Confidence)
		out = append(out, f)
		return nil
	})
	return out, err
}

// PutAlarms writes alarms, new or changed; they are on the card when it returns.
func (s *Store) PutAlarms(as []alarm.Alarm) error {
	kvs := make([]keyValue, 0, len(as))
	for _, a := range as {
		k := []byte(a.ID)
		v, err := packRecord(k, a)
		if err != nil {
			return fmt.Errorf("store alarm %q: %w", a.ID, err)
		}
		kvs = append(kvs, keyValue{k, v})
	}
	if err := s.put(bucketAlarms, kvs); err != nil {
		return fmt.Errorf("store alarms: %w", err)
	}
	return nil
}

// Alarms returns all alarms, sorted by ID.
func (s *Store) Alarms() (out []alarm.Alarm, err error) {
	err = s.each(bucketAlarms, nil, func(k, v []byte) error {
		var a alarm.Alarm
		if err := unpackRecord(k, v, &a); err != nil {
			return err
		}
		out = append(out, a)
		return nil
	})
	return out, err
}

// Baseline is one version of what a collector is compared with, in the estimator's own encoding.
type Baseline struct {
	Version int
	Blob    []byte
}

// PutBaseline writes a version of a collector's baseline, which is on the card when it returns. Versions are kept for
// good; the same version replaces itself.
func (s *Store) PutBaseline(collector string, version int, blob []byte) error {
	if version < 0 {
		return fmt.Errorf("store baseline of %q: version %d is below 0", collector, version)
	}
	k := binary.BigEndian.AppendUint64(append([]byte(collector), 0), uint64(version))
	v, err := packRecord(k, Baseline{version, blob})
	if err == nil {
		err = s.put(bucketBaselines, []keyValue{{k, v}})
	}
	if err != nil {
		return fmt.Errorf("store baseline of %q: %w", collector, err)
	}
	return nil
}

// Baselines returns the versions of a collector's baseline, oldest first.
func (s *Store) Baselines(collector string) (out []Baseline, err error) {
	err = s.each(bucketBaselines, append([]byte(collector), 0), func(k, v []byte) error {
		var b Baseline
		if err := unpackRecord(k, v, &b); err != nil {
			return err
		}
		out = append(out, b)
		return nil
	})
	return out, err
}

// Shop is one version of the shop file, in force from From.
type Shop struct {
	From time.Time
	Raw  []byte
}

// PutShop writes a version of the shop file, which is on the card when it returns. The same text as the newest is not
// written again.
func (s *Store) PutShop(raw []byte, from time.Time) error {
	old, err := s.Shops()
	if n := len(old); err == nil && n > 0 && bytes.Equal(old[n-1].Raw, raw) {
		return nil
	}
	if _, err := s.add(bucketShops, Shop{from, raw}); err != nil {
		return fmt.Errorf("store the shop description: %w", err)
	}
	return nil
}

// Shops returns the versions of the shop file in the order in which they were written.
func (s *Store) Shops() (out []Shop, err error) {
	err = s.each(bucketShops, nil, func(k, v []byte) error {
		var x Shop
		if err := unpackRecord(k, v, &x); err != nil {
			return err
		}
		out = append(out, x)
		return nil
	})
	return out, err
}
