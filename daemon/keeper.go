package daemon

import (
	"context"
	"io"
	"iter"
	"time"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/outbox"
	"ductward/internal/reading"
	"ductward/internal/steady"
	"ductward/internal/store"
)

// keeper is what the daemon needs of a store. Tests put one in its place that fails.
type keeper interface {
	NewBoot() (uint32, error)
	PlaceBoot(boot uint32, monoZero time.Time) error

	Append([]reading.Reading) error
	Commit() error
	Bulk(on bool) error
	Close() error
	Prune(now time.Time) (int, error)
	Space() (store.Space, error)
	Compact(context.Context) error
	Damage() error
	Repair(damage error) (store.Notice, error)
	Notices() []store.Notice
	Backup(io.Writer) (store.Tally, error)
	Readings(context.Context, store.ReadQuery) iter.Seq2[reading.Reading, error]
	Chart(channel string, from, to time.Time, n int) ([]store.Bucket, error)
	Latest() map[string]reading.Reading
	SetPublished(store.Cursor)
	Published() store.Cursor

	AppendRuns([]steady.Run) error
	Runs(collector string) iter.Seq2[steady.Run, error]
	RunsFrom(collector string, boot uint32, end time.Duration) iter.Seq2[steady.Run, error]

	AddJournal(journal.Entry) (uint64, error)
	Journal() ([]journal.Entry, error)
	PutFindings(collector string, list []finding.Finding) error
	PutAlarmEvents([]alarm.Alarm, []journal.Entry) error
	Alarms() ([]alarm.Alarm, error)
	PutItems([]outbox.Item) error
	DropItems(numbers []uint64) error
	Items() ([]outbox.Item, error)
	PutBaseline(collector string, version int, blob []byte) error
	PutShop(raw []byte, from time.Time) error
	Shops() ([]store.Shop, error)
}
