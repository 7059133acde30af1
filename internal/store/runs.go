package store

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"iter"
	"slices"
	"time"

	bolt "go.etcd.io/bbolt"

	"ductward/internal/steady"
)

// runRecord is a run with its unknown numbers as null. The fields that it names again hide those of the run.
type runRecord struct {
	steady.Run
	Channels []summaryRecord
}

type summaryRecord struct {
	steady.Summary
	Mean, SE, SD, Slope, Zero number
}

func packRun(key []byte, r steady.Run) ([]byte, error) {
	rec := runRecord{Run: r}
	for _, c := range r.Channels {
		rec.Channels = append(rec.Channels, summaryRecord{c, number(c.Mean), number(c.SE), number(c.SD),
			number(c.Slope), number(c.Zero)})
	}
	return packRecord(key, rec)
}

func unpackRun(key, b []byte) (steady.Run, error) {
	var rec runRecord
	if err := unpackRecord(key, b, &rec); err != nil {
		return steady.Run{}, err
	}
	r := rec.Run
	for _, c := range rec.Channels {
		x := c.Summary
		x.Mean, x.SE, x.SD = float64(c.Mean), float64(c.SE), float64(c.SD)
		x.Slope, x.Zero = float64(c.Slope), float64(c.Zero)
		r.Channels = append(r.Channels, x)
	}
	return r, nil
}

// runKey sorts the runs of a collector by boot and end. The same stretch folded again replaces itself.
func runKey(r *steady.Run) []byte {
	k := runPlace(append([]byte(r.Collector), 0), r.Boot, r.End)
	k = binary.BigEndian.AppendUint64(k, uint64(r.Start))
	return append(k, byte(r.Kind))
}

// runPlace appends what all keys of runs that end at a time begin with.
func runPlace(k []byte, boot uint32, end time.Duration) []byte {
	return binary.BigEndian.AppendUint64(binary.BigEndian.AppendUint32(k, boot), uint64(end))
}

// Runs that wait are written without being asked once there are fullRuns of them, and refused beyond mostRuns, which only
// happens while the card takes nothing. A busy shop makes some hundred a day.
const (
	fullRuns = 1 << 12
	mostRuns = 1 << 14
)

// AppendRuns hands over runs, which reach the card with the next Commit. They are kept for good. With ErrFull they are
// refused; with another error of writing they are taken, and wait.
func (s *Store) AppendRuns(runs []steady.Run) error {
	for i := range runs {
		// What cannot be packed must be refused here, or it would hold up every commit.
		if _, err := packRun(nil, runs[i]); err != nil {
			return fmt.Errorf("run of %q that ends at %v: %w", runs[i].Collector, runs[i].End, err)
		}
	}
	full, err := s.holdRuns(runs)
	if full && err == nil {
		err = s.Commit()
	}
	return err
}

func (s *Store) holdRuns(runs []steady.Run) (full bool, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return false, ErrClosed
	}
	if len(s.runs)+len(runs) > mostRuns {
		return false, fmt.Errorf("%d runs wait already: %w", len(s.runs), ErrFull)
	}
	s.runs = append(s.runs, runs...)
	return len(s.runs) >= fullRuns, nil
}

func putRuns(tx *bolt.Tx, runs []steady.Run) error {
	b := tx.Bucket(bucketRuns)
	b.FillPercent = fill
	for i := range runs {
		k := runKey(&runs[i])
		v, err := packRun(k, runs[i])
		if err != nil {
			return err
		}
		if err := b.Put(k, v); err != nil {
			return err
		}
	}
	return nil
}

// Runs gives the runs of a collector by boot and end, those not yet committed among them, with At from the placement
// of their boot where that is known. A damaged record is given as an error in its place, and the others go on.
func (s *Store) Runs(collector string) iter.Seq2[steady.Run, error] {
	return s.RunsFrom(collector, 0, 0)
}

// RunsFrom gives the runs of a collector as Runs does, from those of a boot that end at a monotonic time or later.
func (s *Store) RunsFrom(collector string, boot uint32, end time.Duration) iter.Seq2[steady.Run, error] {
	return func(yield func(steady.Run, error) bool) {
		prefix := append([]byte(collector), 0)
		from := runPlace(prefix[:len(prefix):len(prefix)], boot, end)
		waiting := s.waitingRuns(collector)
		for len(waiting) > 0 && bytes.Compare(waiting[0].key, from) < 0 {
			waiting = waiting[1:]
		}
		for {
			page, err := s.page(bucketRuns, prefix, from)
			if err != nil {
				yield(steady.Run{}, err)
				return
			}
			if len(page) == 0 {
				break
			}
			for _, kv := range page {
				for len(waiting) > 0 && bytes.Compare(waiting[0].key, kv.key) <= 0 {
					same := bytes.Equal(waiting[0].key, kv.key)
					if !same && !yield(s.placed(waiting[0].run), nil) {
						return
					}
					waiting = waiting[1:]
				}
				r, err := unpackRun(kv.key, kv.value)
				if err != nil {
					err = &DamageError{Bucket: string(bucketRuns), Key: fmt.Sprintf("%q", kv.key), Err: err}
				}
				if !yield(s.placed(r), err) {
					return
				}
			}
			from = append(page[len(page)-1].key, 0)
		}
		for _, w := range waiting {
			if !yield(s.placed(w.run), nil) {
				return
			}
		}
	}
}

type keyedRun struct {
	key []byte
	run steady.Run
}

func (s *Store) waitingRuns(collector string) []keyedRun {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []keyedRun
	for _, r := range s.runs {
		if r.Collector == collector {
			out = append(out, keyedRun{runKey(&r), r})
		}
	}
	slices.SortStableFunc(out, func(a, b keyedRun) int { return bytes.Compare(a.key, b.key) })
	return out
}

// placed sets At from the placement of the run's boot, if that is known.
func (s *Store) placed(r steady.Run) steady.Run {
	s.mu.Lock()
	defer s.mu.Unlock()
	if zero := s.boots[r.Boot]; !zero.IsZero() {
		r.At = zero.Add(r.End)
	}
	return r
}

type keyValue struct{ key, value []byte }

// pageRows is how many rows one read transaction copies out: few, so that it holds no pages for long.
const pageRows = 256

// page copies out the next rows under prefix, at or after from.
func (s *Store) page(bucket, prefix, from []byte) (out []keyValue, err error) {
	err = s.view(func(tx *bolt.Tx) error {
		c := tx.Bucket(bucket).Cursor()
		for k, v := c.Seek(from); k != nil && bytes.HasPrefix(k, prefix) && len(out) < pageRows; k, v = c.Next() {
			out = append(out, keyValue{bytes.Clone(k), bytes.Clone(v)})
		}
		return nil
	})
	return out, err
}

// view runs f in a short read transaction.
func (s *Store) view(f func(*bolt.Tx) error) error {
	err := s.guarded(func() error {
		tx, err := s.begin()
		if err != nil {
			return err
		}
		defer func() { _ = tx.Rollback() }() // nothing was written
		return s.lettingGo(f)(tx)
	})
	if err != nil {
		return fmt.Errorf("read the store: %w", err)
	}
	return nil
}

// begin begins a read transaction. It stays with the file that is in use now, should another take its place meanwhile.
func (s *Store) begin() (*bolt.Tx, error) {
	s.file.RLock()
	defer s.file.RUnlock()
	return s.db.Begin(false)
}

// looksMapped is how many transactions may gather pages of the file in the daemon's memory: of charts, 4 MB.
const looksMapped = 64

// lettingGo is f that now and then lets go of the pages that it and others before it looked at.
func (s *Store) lettingGo(f func(*bolt.Tx) error) func(*bolt.Tx) error {
	return func(tx *bolt.Tx) error {
		if s.looks.Add(1)%looksMapped == 0 {
			defer letGo(tx)
		}
		return f(tx)
	}
}
