package hardware

import (
	"errors"
	"log/slog"
	"math"
	"sync/atomic"
	"time"

	"ductward/internal/reading"
)

// The waits between attempts on a part that does not answer: doubled from the first to the last.
const (
	firstWait = time.Second
	lastWait  = 30 * time.Second
)

// logAgain is how often a standing fault is told in the log after the first time.
const logAgain = time.Hour

// health is what a poller knows about its source: the standing fault, when to try again, and what was logged. The
// fault may be read by any goroutine, the rest belongs to the poller's.
type health struct {
	channel string
	where   string
	log     *slog.Logger

	standing atomic.Pointer[Fault]
	failures int           // in a row
	wait     time.Duration // the last wait; 0 when the source is well
	retryAt  time.Duration // monotonic
	loggedAt time.Duration
}

// fault returns the standing fault, or nil.
func (h *health) fault() *Fault { return h.standing.Load() }

// Where names the bus and address, the pin or the topic.
func (h *health) Where() string { return h.where }

// resting tells whether the source should be left alone for now.
func (h *health) resting(now time.Duration) bool { return h.wait > 0 && now < h.retryAt }

// answer is what Read returns while a fault stands.
func (h *health) answer() (float64, reading.Quality, error) {
	return math.NaN(), reading.Good, h.standing.Load()
}

// failed notes a failure and returns what Read returns. A fault of the same kind keeps its text and its beginning.
func (h *health) failed(now time.Duration, code Code, err error) (float64, reading.Quality, error) {
	h.failures++
	if costsBusTime(code) {
		h.wait = min(max(2*h.wait, firstWait), lastWait)
		h.retryAt = now + h.wait
	} else {
		h.wait = 0
	}
	old := h.standing.Load()
	if old != nil && old.Code == code {
		h.remind(now, old)
		return h.answer()
	}
	f := &Fault{Code: code, Channel: h.channel, Where: h.where, Remedy: remedies[code], Since: now, Err: err}
	if old != nil {
		f.Since, f.Cycles = old.Since, old.Cycles
	}
	h.standing.Store(f)
	h.loggedAt = now
	h.log.Warn("no value", "channel", h.channel, "code", string(code), "where", h.where, "cause", err, "remedy", f.Remedy)
	return h.answer()
}

func (h *health) remind(now time.Duration, f *Fault) {
	if now-h.loggedAt < logAgain {
		return
	}
	h.loggedAt = now
	h.log.Warn("still no value", "channel", h.channel, "code", string(f.Code), "where", h.where,
		"for", (now - f.Since).Round(time.Second), "attempts", h.failures)
}

// cycled notes in the standing fault that the supply was switched off and on.
func (h *health) cycled() {
	if f := h.standing.Load(); f != nil {
		tried := *f
		tried.Cycles++
		h.standing.Store(&tried)
	}
}

// well notes a good value.
func (h *health) well(now time.Duration) {
	f := h.standing.Load()
	if f == nil {
		return
	}
	h.standing.Store(nil)
	h.log.Info("value is back", "channel", h.channel, "code", string(f.Code), "where", h.where,
		"after", (now - f.Since).Round(time.Second), "attempts", h.failures)
	h.failures, h.wait = 0, 0
}

// costsBusTime tells whether asking again at every interval would hold up the neighbours on the bus: a locked bus costs
// a time-out each time. A chip that answers, though not with a pressure, costs no more than a good one.
func costsBusTime(c Code) bool {
	switch c {
	case NotAnswering, BusLocked, NoBus, NoPin, WrongChip, Busy:
		return true
	}
	return false
}

// busCode tells which fault an error of a bus is: whatever is no time-out is a missing acknowledge, since that is all
// that the kernel tells apart with any certainty.
func busCode(err error) Code {
	if errors.Is(err, errLocked) {
		return BusLocked
	}
	return NotAnswering
}
