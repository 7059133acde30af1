package daemon

import "time"

// clockStep is how far civil time may stray from monotonic time before a boot is placed anew. A disciplined clock is
// slewed by far less a day; a step is a second or more.
const clockStep = 500 * time.Millisecond

// place follows the clock: once it is trusted, and whenever it has jumped, monotonic 0 gets its civil time. Readings
// keep their order whatever the clock does.
func (f *fold) place(mono time.Duration) {
	if !f.clk.Trusted() {
		return
	}
	zero := f.clk.Now().Add(-mono)
	if off := zero.Sub(f.placed); !f.placed.IsZero() && off > -clockStep && off < clockStep {
		return
	}
	if f.keeping.see(mono, f.store.PlaceBoot(f.in.boot, zero)) != nil {
		return
	}
	switch {
	case !f.placed.IsZero():
		f.log.Warn("the clock jumped", "by", zero.Sub(f.placed))
	case f.untrusted:
		f.log.Info("the clock is set", "now", zero.Add(mono))
	}
	f.placed = zero
	f.in.place(zero)
}
