package daemon

import (
	"errors"
	"time"

	"ductward/internal/alarm"
	"ductward/internal/store"
)

// clockStep is how far civil time may stray from monotonic time before a boot is placed anew. A disciplined clock is
// slewed by far less a day; a step is a second or more.
const clockStep = 500 * time.Millisecond

// place follows the clock: once it is trusted, and whenever it has jumped, monotonic 0 gets its civil time. Readings
// keep their order whatever the clock does; the times of the alarms of this boot move with it.
func (f *fold) place(mono time.Duration) {
	zero := f.clk.Now().Add(-mono)
	if !f.clk.Trusted() {
		f.believed = zero
		return
	}
	if off := zero.Sub(f.placed); !f.placed.IsZero() && off > -clockStep && off < clockStep {
		return
	}
	err := f.store.PlaceBoot(f.in.boot, zero)
	if errors.Is(err, store.ErrOwed) { // that the card takes nothing is told by the commits
		f.log.Warn("the civil time of this start could not be stored yet", "err", err)
	} else if f.keeping.see(mono, err) != nil {
		return
	}
	if by := zero.Sub(f.believed); !f.believed.IsZero() {
		f.log.Warn("the clock was set", "by", by, "now", zero.Add(mono))
		first := f.believed
		f.change(mono, func() []alarm.Alarm { return f.alarms.Shift(first, first.Add(mono), by) })
	}
	if f.watch != nil {
		f.watch.clockSet(f.in.boot)
	}
	f.placed, f.believed = zero, zero
	f.in.place(zero)
}
