package daemon

import (
	"errors"
	"fmt"
	"math"
	"time"

	"ductward/dashboard"
)

// patience is how long a person is kept waiting until what was set is seen on every page: longer than a commit on a
// slow card.
const patience = 2 * time.Second

// SetByHand records where a person says that a gate, a selector or a fan stands, by the name of its channel: 1 open or
// running, 0 shut or standing, or the number of a selector's port. NaN says that it is not known. It holds until it is
// set again, over restarts and power cuts too: it is on the card when SetByHand returns nil. Only what is by hand in the
// shop file can be set, and only while Run runs; it may be called from any goroutine.
func (d *Daemon) SetByHand(channel string, v float64) error {
	s := d.running.Load()
	if s == nil {
		return errors.New("set a position by hand: the daemon is not running")
	}
	return s.setByHand(channel, v)
}

func (s *session) setByHand(name string, v float64) error {
	c := s.channels[name]
	switch {
	case c == nil:
		return fmt.Errorf("%q is not in the shop file", name)
	case !c.byHand:
		return fmt.Errorf("%q tells by itself where it stands; only what is by hand in the shop file can be set", name)
	case !math.IsNaN(v) && (v < 0 || v > float64(c.ports) || v != math.Trunc(v)):
		if c.ports == 1 {
			return fmt.Errorf("%q: position %g is not 0 or 1", name, v)
		}
		return fmt.Errorf("%q: port %g is not one of 0 to %d", name, v, c.ports)
	}
	s.in.take(c, single(v))
	taken := s.fold.waitTaken(patience)
	// The commit is not the fold's own, whose count of failures it must not disturb.
	if err := s.store.Commit(); err != nil {
		return fmt.Errorf("%q is set, but is %w: %w; it will be tried again", name, dashboard.ErrNotStored, err)
	}
	if !taken {
		return fmt.Errorf("%q is set, but is %w: the watch is busy; it is stored with what else is read", name, dashboard.ErrNotStored)
	}
	return nil
}
