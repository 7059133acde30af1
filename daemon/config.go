package daemon

import (
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"ductward/dashboard"
	"ductward/hardware"
	"ductward/internal/alarm"
	"ductward/internal/clock"
	"ductward/internal/journal"
	"ductward/internal/shop"
)

// Config is what a Daemon works with. Shop, DataDir and Clock must be set.
type Config struct {
	Shop    *shop.Shop
	DataDir string          // where the store lives; made if it is missing
	Listen  string          // host:port of the dashboard; port 0 takes a free one; "" serves no dashboard
	Gate    *dashboard.Gate // who may write on the dashboard; nil: whoever reaches it
	TLS     *tls.Config     // the dashboard's certificate; nil: its line is not encrypted
	Names   []string        // by which the dashboard is reached besides this machine's own and those of its network
	Buses   hardware.Buses  // nil: a board without wires
	Clock   clock.Clock
	Log     *slog.Logger  // nil: slog.Default()
	Version string        // of the program, shown on the dashboard
	Alarms  alarm.Options // the zero value takes alarm.DefaultOptions
	KeepRaw time.Duration // how long raw readings are kept; 0: two years. Means by the minute, hour and day are kept for good
	// CommitEvery is the time between commits while a fan runs: what a power cut may cost. 0: 30 seconds. While all fans
	// stand it is ten times as long.
	CommitEvery time.Duration
	World       World // nil: the real one, which moves by itself

	// Logbook is what the people of a simulated world write down: History enters each entry at its moment.
	Logbook []journal.Entry

	// Listening is called with the dashboard's address once it is listened on; nil: nobody asks.
	Listening func(address string)
	// Known is called once in a Run, when the watch has been made from what is stored and the first snapshot of it is
	// there to be shown; nil: nobody asks. Before that the dashboard can tell nothing. It must return soon.
	Known func()

	// Pulse is told that the daemon lives; the zero value tells nobody.
	Pulse Pulse

	store func(dir string) (keeper, error) // another store, for tests of its failures
	pace  pace                             // shorter times, for tests; the zero value takes the usual ones
}

// World is a simulated plant behind the buses. It moves only when it is told to.
type World interface {
	// Advance moves the world to a monotonic time. It is never called while a poller reads.
	Advance(to time.Duration)
	// Next returns the next monotonic time, after the one advanced to, at which a gate, a selector or a fan moves. Pressures
	// may move at any time. A negative time says that it is not known.
	Next() time.Duration
}

// pace holds the times that shape the daemon's work.
type pace struct {
	commitBusy, commitIdle time.Duration // between commits while a fan runs, and while all stand
	housekeeping           time.Duration // between looks at what is due
	snapshot               time.Duration // between snapshots for the dashboard
	publish                time.Duration // between readings of one channel sent to the broker
	faultAfter             time.Duration // without a value until it is told
	soundAfter             time.Duration // with values until a fault is over
	failingAfter           time.Duration // of commits until a person is told: a card that stalls recovers by itself
	shutdown               time.Duration // that open requests have to end
	retryFirst, retryMost  time.Duration // between attempts at the broker
	tellFirst, tellMost    time.Duration // between attempts at a target of letters
	tellFailing            time.Duration // of attempts until a person is told
	calendar               time.Duration // between looks whether a letter of the calendar is due
}

// usual are the times of a real board. None comes from a source; each is a choice between a card's wear, a person's
// patience and what a power cut may cost.
var usual = pace{
	commitBusy:   30 * time.Second,
	commitIdle:   5 * time.Minute,
	housekeeping: time.Second,
	snapshot:     2 * time.Second,
	publish:      time.Minute,
	faultAfter:   10 * time.Second,
	soundAfter:   10 * time.Second,
	failingAfter: 5 * time.Minute,
	shutdown:     5 * time.Second,
	retryFirst:   time.Second,
	retryMost:    time.Minute,
	tellFirst:    10 * time.Second,
	tellMost:     time.Hour,
	tellFailing:  time.Hour,
	calendar:     time.Minute,
}

// keepRaw is long enough to look at the same season a year ago in full, and little on any card: a few bytes a reading.
const keepRaw = 2 * 366 * 24 * time.Hour

func (c *Config) complete() error {
	switch {
	case c.Shop == nil:
		return errors.New("daemon: no shop: give the description that was loaded")
	case c.DataDir == "":
		return fmt.Errorf("daemon: shop %q: no data directory: name one that may be written", c.Shop.Name)
	case c.CommitEvery < 0:
		return fmt.Errorf("daemon: %v between commits is below 0", c.CommitEvery)
	case c.Clock == nil:
		return errors.New("daemon: no clock: give the system's or a virtual one")
	}
	if c.Log == nil {
		c.Log = slog.Default()
	}
	if c.Alarms == (alarm.Options{}) {
		c.Alarms = alarm.DefaultOptions()
	}
	if c.KeepRaw <= 0 {
		c.KeepRaw = keepRaw
	}
	if c.pace == (pace{}) {
		c.pace = usual
	}
	if c.CommitEvery > 0 {
		c.pace.commitBusy, c.pace.commitIdle = c.CommitEvery, 10*c.CommitEvery
	}
	return nil
}
