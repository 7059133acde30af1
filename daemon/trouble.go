package daemon

import (
	"log/slog"
	"sync"
	"time"
)

// trouble is something that may fail again and again. It is logged at first, then seldom with its count, and once when
// it is over. It is safe for concurrent use.
type trouble struct {
	what string
	log  *slog.Logger

	mu    sync.Mutex
	count int
	since time.Duration
	next  time.Duration // when to log again
	last  error
}

// Between two lines in the log about a standing trouble.
const (
	firstReminder = time.Minute
	lastReminder  = 6 * time.Hour
)

// see notes how it went at mono; err nil is well. It returns err.
func (t *trouble) see(mono time.Duration, err error) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.last = err
	switch {
	case err == nil && t.count > 0:
		t.log.Info(t.what+" works again", "failures", t.count, "for", (mono - t.since).Round(time.Second))
		t.count = 0
	case err == nil:
	case t.count == 0:
		t.count, t.since, t.next = 1, mono, mono+firstReminder
		t.log.Error(t.what+" failed", "err", err)
	default:
		t.count++
		if mono >= t.next {
			t.next = mono + min(2*(mono-t.since), lastReminder)
			t.log.Error(t.what+" still fails", "err", err, "failures", t.count, "for", (mono - t.since).Round(time.Second))
		}
	}
	return err
}

// stands tells whether it failed last time.
func (t *trouble) stands() bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.count > 0
}
