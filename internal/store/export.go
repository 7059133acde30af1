package store

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"iter"
	"time"

	bolt "go.etcd.io/bbolt"
)

// Record is one record as it stands in the file.
type Record struct {
	Collector string          // "" where the bucket is not of collectors
	Number    uint64          // of a boot, an entry, a shop file, a letter, a baseline's version; 0: by its own identity
	JSON      json.RawMessage // numbers in SI, null where not known; times civil, durations in ns
}

// numbered are the buckets whose keys are a number of so many bytes, ofCollector those whose keys begin with a collector.
var (
	numbered    = map[string]int{"boots": 4, "journal": 8, "shops": 8, "outbox": 8}
	ofCollector = map[string]bool{"runs": true, "findings": true, "baselines": true}
)

// Records gives the records of a bucket ("boots", "runs", "journal", "findings", "alarms", "baselines", "shops", "outbox")
// in order of their keys. One that cannot be read comes as a *DamageError, and the next ones behind it.
func (s *Store) Records(bucket string) iter.Seq2[Record, error] {
	return func(yield func(Record, error) bool) {
		for kv, err := range s.Keys(bucket) {
			if err != nil {
				yield(Record{}, err)
				return
			}
			r, err := asStored(bucket, kv.Key, kv.Value)
			if err != nil {
				err = &DamageError{bucket, fmt.Sprintf("%q", kv.Key), err}
			}
			if !yield(r, err) {
				return
			}
		}
	}
}

func asStored(bucket string, key, value []byte) (r Record, err error) {
	if err = unpackRecord(key, value, &r.JSON); err != nil {
		return r, err
	}
	size := numbered[bucket]
	switch {
	case size > 0 && len(key) != size:
		return r, fmt.Errorf("its key has %d bytes, and should have %d", len(key), size)
	case size == 4:
		r.Number = uint64(binary.BigEndian.Uint32(key))
	case size == 8:
		r.Number = binary.BigEndian.Uint64(key)
	case ofCollector[bucket]:
		name, rest, _ := bytes.Cut(key, []byte{0})
		r.Collector = string(name)
		if bucket == "baselines" && len(rest) == 8 {
			r.Number = binary.BigEndian.Uint64(rest)
		}
	}
	return r, nil
}

// Key is one key of a bucket with what stands there.
type Key struct{ Key, Value []byte }

// Keys gives the keys of any bucket as they are; none where the file has no such bucket.
func (s *Store) Keys(bucket string) iter.Seq2[Key, error] {
	return func(yield func(Key, error) bool) {
		there := false
		err := s.view(func(tx *bolt.Tx) error { there = tx.Bucket([]byte(bucket)) != nil; return nil })
		for from := []byte(nil); there && err == nil; {
			var page []keyValue
			if page, err = s.page([]byte(bucket), nil, from); err != nil || len(page) == 0 {
				break
			}
			for _, kv := range page {
				if !yield(Key{kv.key, kv.value}, nil) {
					return
				}
			}
			from = append(page[len(page)-1].key, 0)
		}
		if err != nil {
			yield(Key{}, err)
		}
	}
}

// RollUp sums the readings of one channel over a minute, an hour or a day of monotonic time, those that are no number left
// out. It outlives the readings, which are deleted for their age.
type RollUp struct {
	Channel        string
	Boot           uint32
	Mono           time.Duration // where it begins
	Time           time.Time     // the same, civil; zero: the boot is not placed
	N              int64
	Min, Mean, Max float64 // SI
}

// RollUps gives the roll-ups of a level: "minutes", "hours" or "days". What cannot be read comes as a *DamageError, and the
// next ones behind it. What is not sealed yet has none.
func (s *Store) RollUps(name string) iter.Seq2[RollUp, error] {
	return func(yield func(RollUp, error) bool) {
		for i := range levels {
			if string(levels[i].bucket) == name {
				s.rollUps(&levels[i], yield)
				return
			}
		}
		yield(RollUp{}, fmt.Errorf("there are no roll-ups by %q", name))
	}
}

func (s *Store) rollUps(l *level, yield func(RollUp, error) bool) {
	zeros := map[uint32]time.Time{}
	for _, b := range s.Boots() {
		zeros[b.ID] = b.Zero
	}
	names, err := s.Channels()
	if err != nil {
		yield(RollUp{}, err)
		return
	}
	for kv, err := range s.Keys(string(l.bucket)) {
		if err != nil {
			yield(RollUp{}, err)
			return
		}
		k, ok := parseRollKey(kv.Key)
		rs, err := readRolls(kv.Key, kv.Value, l)
		if !ok && err == nil {
			err = fmt.Errorf("its key %x places nothing", kv.Key)
		}
		if err != nil {
			if !yield(RollUp{}, &DamageError{string(l.bucket), k.String(), err}) {
				return
			}
			continue
		}
		for _, r := range rs {
			out := RollUp{Channel: names[k.channel], Boot: k.boot, Mono: time.Duration(r.slot) * l.width, N: r.n, Min: r.min, Mean: r.mean(), Max: r.max}
			if zero := zeros[k.boot]; !zero.IsZero() {
				out.Time = zero.Add(out.Mono)
			}
			if !yield(out, nil) {
				return
			}
		}
	}
}

// Channels gives the names of the channels of which anything is stored, by number.
func (s *Store) Channels() (map[uint32]string, error) {
	out := map[uint32]string{}
	for kv, err := range s.Keys(string(bucketChannels)) {
		if err != nil {
			return nil, err
		}
		if len(kv.Key) == 4 {
			out[binary.BigEndian.Uint32(kv.Key)] = string(kv.Value)
		}
	}
	return out, nil
}
