package dashboard

import (
	"errors"
	"log/slog"
	"time"

	"ductward/internal/alarm"
	"ductward/internal/clock"
	"ductward/internal/journal"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/watch"
)

// Watch tells what is known now.
type Watch interface {
	// Snapshot returns the newest snapshot, or nil before the first. It is not changed afterwards.
	Snapshot() *watch.Snapshot
}

// Bucket sums up one channel over [Start, End). N is 0 where there is no reading: Min, Mean and Max then say nothing.
type Bucket struct {
	Start, End     time.Time
	Min, Mean, Max float64 // SI
	N              int
}

// Readings gives the record of the channels.
type Readings interface {
	// Chart returns n buckets of equal length, oldest first, or as many as it can fill.
	Chart(channel string, from, to time.Time, n int) ([]Bucket, error)
	// Latest returns the last reading of each channel.
	Latest() map[string]reading.Reading
}

// Journal is the shop's logbook.
type Journal interface {
	Journal() ([]journal.Entry, error)
	// AddJournal keeps the entry and tells the watch of it. It is durable when AddJournal returns.
	AddJournal(journal.Entry) (uint64, error)
}

// Alarms are the findings that ask something of a person.
type Alarms interface {
	List() []alarm.Alarm
	// Acknowledge notes that by has seen the alarm. It is durable when Acknowledge returns.
	Acknowledge(id, by string, at time.Time) (alarm.Alarm, error)
	// The others, likewise. Their errors are those of package alarm, or of the store.
	Shelve(id, by, reason string, at, until time.Time, once bool) (alarm.Alarm, error)
	Unshelve(id, by string, at time.Time) (alarm.Alarm, error)
	TakeOut(id, by, reason string, at time.Time) (alarm.Alarm, error)
	PutBack(id, by string, at time.Time) (alarm.Alarm, error)
	Confirm(id, by, found, action string, at time.Time) (alarm.Alarm, error)
}

// ErrNotStored is wrapped by what could not be stored yet, though nothing was wrong with it: asked again later, it may be.
var ErrNotStored = errors.New("not stored yet")

// Positions takes where a person says that something stands which the shop file tells by hand.
type Positions interface {
	// SetByHand sets a gate or fan to 1 (open, running) or 0, a selector to the number of its port or 0, by the name of
	// its channel; NaN says that it is not known. An error that wraps ErrNotStored is not the asker's fault.
	SetByHand(channel string, v float64) error
}

// Config is what the dashboard works with. Shop, Watch, Readings, Journal, Alarms and Clock must be set.
type Config struct {
	Shop     *shop.Shop
	Watch    Watch
	Readings Readings
	Journal  Journal
	Alarms   Alarms
	Clock    clock.Clock

	Delivery  Delivery        // nil: nobody is told
	Gate      *Gate           // nil: whoever reaches the pages may write
	Loopback  bool            // no other machine reaches the pages: no names of the shop's network are answered
	Names     []string        // by which the pages are reached besides numbers, localhost and names of the shop's network
	Positions Positions       // nil: nothing can be set by hand
	Log       *slog.Logger    // nil: slog.Default()
	Closing   <-chan struct{} // closed when the daemon stops, so that open streams end; nil: they end with their client
	Refresh   time.Duration   // between looks for news on an open stream; 2 s when 0
	Version   string          // of the program, shown at the foot of each page
}
