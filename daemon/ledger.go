package daemon

import (
	"crypto/sha256"
	"encoding/hex"
	"maps"
	"time"

	"ductward/internal/checkpoint"
	"ductward/internal/journal"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/steady"
	"ductward/internal/watch"
)

// followed is a watch with a ledger of what it has been told, by which a checkpoint of it is held against the record.
type followed struct {
	*watch.Watch
	ledger
}

func newFollowed(s *shop.Shop) (*followed, error) {
	w, err := watch.New(s)
	return &followed{Watch: w, ledger: ledger{Runs: map[string]mark{}}}, err
}

// ledger says how much of the record a watch has been told.
type ledger struct {
	Entries int             `json:"entries"`     // of the journal, by time
	Sum     sum256          `json:"entries_sum"` // of each of them with the sum before it
	Runs    map[string]mark `json:"runs"`        // the last one, by collector

	moved bool // the clock was set behind runs that had been told: the record has other times for them
}

// mark tells one run from all others.
type mark struct {
	Boot uint32        `json:"boot"`
	End  time.Duration `json:"end_ns"`
	At   time.Time     `json:"at"`
	Sum  sum256        `json:"sum"` // of all that it says
}

// sum256 is a SHA-256 sum, in hexadecimal digits in a file.
type sum256 [sha256.Size]byte

// MarshalText implements encoding.TextMarshaler.
func (d sum256) MarshalText() ([]byte, error) { return []byte(hex.EncodeToString(d[:])), nil }

// UnmarshalText implements encoding.TextUnmarshaler.
func (d *sum256) UnmarshalText(text []byte) error {
	b, err := hex.DecodeString(string(text))
	copy(d[:], b)
	return err
}

// sumOf returns the sum of what a pointer leads to, behind a sum before.
func sumOf(before sum256, of any) sum256 {
	data, err := checkpoint.Write(of, nil)
	if err != nil {
		panic(err) // a record holds plain values only
	}
	return sha256.Sum256(append(before[:], data...))
}

// Reading tells a reading.
func (f *followed) Reading(r reading.Reading) []steady.Run {
	runs := f.Watch.Reading(r)
	for i := range runs {
		f.note(&runs[i])
	}
	return runs
}

// Run tells a run.
func (f *followed) Run(r steady.Run) {
	f.Watch.Run(r)
	f.note(&r)
}

// Entry tells an entry. What the tool itself wrote follows from what the watch finds, and tells it nothing.
func (f *followed) Entry(e journal.Entry) {
	if e.Kind.Own() {
		return
	}
	e.Time = e.Time.UTC() // as the store gives it
	f.Watch.Entry(e)
	f.Entries++
	f.Sum = sumOf(f.Sum, &e)
}

// note takes the mark of a run. What a contact told lies in the midst of a stretch, whose readings are still to be told; the
// watch knows by itself that it has been told that.
func (l *ledger) note(r *steady.Run) {
	if r.Kind != steady.Contact {
		l.Runs[r.Collector] = markOf(r)
	}
}

func markOf(r *steady.Run) mark {
	return mark{Boot: r.Boot, End: r.End, At: r.At, Sum: sumOf(sum256{}, r)}
}

// clockSet takes in that the civil times of a boot are others from now on.
func (l *ledger) clockSet(boot uint32) {
	for _, m := range l.Runs {
		l.moved = l.moved || m.Boot == boot
	}
}

// same tells whether two ledgers tell of the same.
func (l *ledger) same(o *ledger) bool {
	return l.Sum == o.Sum && maps.EqualFunc(l.Runs, o.Runs, func(a, b mark) bool { return a.Boot == b.Boot && a.End == b.End && a.Sum == b.Sum })
}

func (l *ledger) copy() ledger {
	c := *l
	c.Runs = maps.Clone(l.Runs)
	return c
}

// last returns the civil end of the last run told.
func (l *ledger) last() time.Time {
	var at time.Time
	for _, m := range l.Runs {
		at = later(at, m.At)
	}
	return at
}
