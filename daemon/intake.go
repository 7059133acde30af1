package daemon

import (
	"math"
	"sort"
	"sync"
	"time"

	"ductward/internal/clock"
	"ductward/internal/reading"
)

// mostWaiting is how many readings may wait for the fold: hours of a big shop, so that a card that takes a minute to
// write loses nothing, and a fold that hangs does not take all memory.
const mostWaiting = 200_000

// fault is news of a channel that yields no values, or yields them again.
type fault struct {
	channel    string
	code, text string // both "": it is over
	at         time.Time
}

// intake puts all readings into one order, whichever goroutine brings them. It is safe for concurrent use.
type intake struct {
	clk  clock.Clock
	boot uint32
	wake chan struct{} // holds one token while something waits

	switches []*channel // sorted by name

	mu       sync.Mutex
	zero     time.Time // civil time of monotonic 0; zero: the clock is not trusted
	seq      uint64
	last     time.Duration
	nextBeat time.Duration
	batch    []reading.Reading
	faults   []fault
	lost     int
}

func newIntake(clk clock.Clock, boot uint32, channels map[string]*channel) *intake {
	in := &intake{clk: clk, boot: boot, wake: make(chan struct{}, 1), last: clk.Mono()}
	in.nextBeat = in.last + beat
	for _, c := range channels {
		if c.isSwitch {
			in.switches = append(in.switches, c)
		}
	}
	sort.Slice(in.switches, func(i, j int) bool { return in.switches[i].name < in.switches[j].name })
	return in
}

// place says when monotonic 0 was; readings from now on carry civil time.
func (in *intake) place(zero time.Time) {
	in.mu.Lock()
	defer in.mu.Unlock()
	in.zero = zero
}

// civil returns the civil time of mono, zero while the clock is not trusted.
func (in *intake) civil(mono time.Duration) time.Time {
	in.mu.Lock()
	defer in.mu.Unlock()
	return in.civilLocked(mono)
}

func (in *intake) civilLocked(mono time.Duration) time.Time {
	if in.zero.IsZero() {
		return time.Time{}
	}
	return in.zero.Add(mono)
}

// take records a value if its channel's schedule wants it now, and tells when the channel was last recorded. r brings
// Value, Quality, Span, SD and N, and Time where the source gave one; the rest is put on here.
func (in *intake) take(c *channel, r reading.Reading) (recorded time.Duration) {
	in.mu.Lock()
	defer in.mu.Unlock()
	mono := max(in.clk.Mono(), in.last)
	if c.due(r.Value, mono) {
		in.record(c, r, mono)
	}
	return c.recorded
}

// tooLate is how far a reading that came by itself may be behind the newest one: more than a full channel takes to be
// read, and less than what a stretch of steady air holds back.
const tooLate = 2 * time.Second

// takePushed records a value that was measured at r.Mono, if that is given. One that the fold is already past is
// stored under its own time and marked, so that no estimate uses it, now or in a rebuild.
func (in *intake) takePushed(c *channel, r reading.Reading) {
	in.mu.Lock()
	defer in.mu.Unlock()
	mono := max(in.clk.Mono(), in.last)
	if r.Mono <= 0 || in.last-r.Mono <= tooLate {
		if c.due(r.Value, mono) {
			in.record(c, r, mono)
		}
		return
	}
	r.Quality = reading.Late
	in.append(c, r, r.Mono)
}

func (in *intake) record(c *channel, r reading.Reading, mono time.Duration) {
	in.last = mono
	c.recorded = mono
	if c.isSwitch {
		c.value, c.known = r.Value, true
	}
	in.append(c, r, mono)
}

func (in *intake) append(c *channel, r reading.Reading, mono time.Duration) {
	in.seq++
	r.Channel, r.Boot, r.Mono, r.Seq = c.name, in.boot, mono, in.seq
	if r.Time.IsZero() {
		r.Time = in.civilLocked(mono)
	}
	if len(in.batch) >= mostWaiting {
		in.lost++
		return
	}
	in.batch = append(in.batch, r)
}

// beatIfDue records again where every switch stands.
func (in *intake) beatIfDue(mono time.Duration) {
	in.mu.Lock()
	defer in.mu.Unlock()
	if mono < in.nextBeat {
		return
	}
	in.nextBeat = mono + beat
	mono = max(mono, in.last)
	for _, c := range in.switches {
		if c.known && mono-c.recorded >= beat/2 {
			in.record(c, single(c.value), mono)
		}
	}
}

// tell passes on news of a fault.
func (in *intake) tell(f fault) {
	in.mu.Lock()
	defer in.mu.Unlock()
	if f.at.IsZero() {
		f.at = in.clk.Now()
	}
	in.faults = append(in.faults, f)
}

// ring wakes the fold if something waits for it.
func (in *intake) ring() {
	in.mu.Lock()
	waits := len(in.batch) > 0 || len(in.faults) > 0
	in.mu.Unlock()
	if waits {
		in.wakeUp()
	}
}

func (in *intake) wakeUp() {
	select {
	case in.wake <- struct{}{}:
	default:
	}
}

// waiting returns how many readings wait.
func (in *intake) waiting() int {
	in.mu.Lock()
	defer in.mu.Unlock()
	return len(in.batch)
}

// batch is what the fold takes at a time. mono is not before any of its readings, and not after any later one; no later one but a
// late one is of before until.
type batch struct {
	readings []reading.Reading
	faults   []fault
	mono     time.Duration
	until    time.Duration
	lost     int
}

// swap hands over what waits, and takes a slice to fill next.
func (in *intake) swap(spare []reading.Reading) batch {
	in.mu.Lock()
	defer in.mu.Unlock()
	b := batch{readings: in.batch, faults: in.faults, mono: in.last, until: max(in.clk.Mono(), in.last), lost: in.lost}
	in.batch, in.faults, in.lost = spare[:0], nil, 0
	return b
}

// single is a reading of one good sample.
func single(v float64) reading.Reading {
	return reading.Reading{Value: v, SD: math.NaN()}
}
