package daemon

import (
	"errors"
	"iter"
	"sync"
	"testing"
	"time"

	"ductward/internal/alarm"
	"ductward/internal/journal"
	"ductward/internal/reading"
	"ductward/internal/steady"
	"ductward/internal/store"
)

var errDiskFull = errors.New("no space left on device")

// spy is a real store that remembers what it was given, and fails when the test says so.
type spy struct {
	keeper

	mu          sync.Mutex
	appended    []reading.Reading
	alarms      map[string]alarm.Alarm
	raised      int
	commits     int
	failCommits bool
	failAlarms  bool
	failClose   bool
	failBulk    bool          // when it is to end
	bulk        []bool        // what was asked for
	past        chan struct{} // until it is closed, the runs of the past have no end; nil: they are the store's
}

// spyOn makes the daemon's store a spy.
func spyOn(t *testing.T, cfg *Config) *spy {
	t.Helper()
	s := &spy{alarms: map[string]alarm.Alarm{}}
	cfg.store = func(dir string) (keeper, error) {
		real, err := store.Open(dir, store.Options{})
		s.keeper = real
		return s, err
	}
	return s
}

func (s *spy) Append(rs []reading.Reading) error {
	s.mu.Lock()
	s.appended = append(s.appended, rs...)
	s.mu.Unlock()
	return s.keeper.Append(rs)
}

func (s *spy) Commit() error {
	s.mu.Lock()
	s.commits++
	fail := s.failCommits
	s.mu.Unlock()
	if fail {
		return errDiskFull
	}
	return s.keeper.Commit()
}

func (s *spy) Bulk(on bool) error {
	s.mu.Lock()
	s.bulk = append(s.bulk, on)
	s.mu.Unlock()
	if s.failBulk && !on {
		return errDiskFull
	}
	return s.keeper.Bulk(on)
}

func (s *spy) Runs(collector string) iter.Seq2[steady.Run, error] {
	if s.past == nil {
		return s.keeper.Runs(collector)
	}
	return func(yield func(steady.Run, error) bool) {
		for n := 0; ; n++ {
			select {
			case <-s.past:
				return
			case <-time.After(time.Millisecond): // so that it does not fill memory
			}
			if !yield(oldRun(collector, 1, n, n+1), nil) {
				return
			}
		}
	}
}

func (s *spy) PutAlarmEvents(list []alarm.Alarm, entries []journal.Entry) error {
	s.mu.Lock()
	fail := s.failAlarms
	if !fail {
		for _, a := range list {
			if a.State == alarm.ActiveUnacknowledged && s.alarms[a.ID].State != alarm.ActiveUnacknowledged {
				s.raised++
			}
			s.alarms[a.ID] = a
		}
	}
	s.mu.Unlock()
	if fail {
		return errDiskFull
	}
	return s.keeper.PutAlarmEvents(list, entries)
}

func (s *spy) Close() error {
	err := s.keeper.Close()
	if s.failClose {
		return errDiskFull
	}
	return err
}

func (s *spy) set(f func(*spy)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	f(s)
}

// have returns how many readings of a channel have come.
func (s *spy) have(channel string) int {
	s.mu.Lock()
	defer s.mu.Unlock()
	n := 0
	for i := range s.appended {
		if s.appended[i].Channel == channel {
			n++
		}
	}
	return n
}

// states returns how often each state stands among the alarms of a cause.
func (s *spy) states(cause string) map[alarm.State]int {
	s.mu.Lock()
	defer s.mu.Unlock()
	out := map[alarm.State]int{}
	for _, a := range s.alarms {
		if a.Cause == cause {
			out[a.State]++
		}
	}
	return out
}
