// Package clock gives time to the parts that need it, so that a simulated plant can run six months in a minute and a
// test never sleeps.
//
// A clock has two faces. Mono is monotonic from the start of the boot and orders everything. Now is civil time and only
// labels; on a board it may be wrong until it is trusted.
package clock

import (
	"context"
	"sync/atomic"
	"time"
)

// Clock tells monotonic and civil time, and waits.
type Clock interface {
	Mono() time.Duration // since the boot; never steps
	Now() time.Time      // civil time
	Trusted() bool       // whether Now may be believed
	Sleep(d time.Duration)
	// Wait returns after d, at once if d is not positive, or with the context's error.
	Wait(ctx context.Context, d time.Duration) error
}

// System is the board's own clock.
type System struct{ start time.Time }

// NewSystem returns a clock whose Mono counts from now.
func NewSystem() *System { return &System{start: time.Now()} }

// Mono returns the time since NewSystem.
func (s *System) Mono() time.Duration { return time.Since(s.start) }

// Now returns the board's civil time.
func (s *System) Now() time.Time { return time.Now() }

// Trusted tells whether the clock has been set: a board without a clock chip starts long before this program was made.
func (s *System) Trusted() bool { return time.Now().Year() >= firstBelievableYear }

// firstBelievableYear is the year in which the program was first built: an earlier date cannot be true.
const firstBelievableYear = 2026

// Sleep waits for d.
func (s *System) Sleep(d time.Duration) { time.Sleep(d) }

// Wait waits for d or for the context.
func (s *System) Wait(ctx context.Context, d time.Duration) error { return wait(ctx, d) }

func wait(ctx context.Context, d time.Duration) error {
	if err := ctx.Err(); err != nil {
		return err // a timer that has run out might win
	}
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// Virtual is a clock that jumps instead of waiting, until it is told to go. It is safe for concurrent use.
type Virtual struct {
	start time.Time
	mono  atomic.Int64              // ns by which it has jumped; a history asks for it for every reading
	going atomic.Pointer[time.Time] // when it was told to go; nil: it stands
}

// NewVirtual returns a clock that stands at start, with Mono at zero.
func NewVirtual(start time.Time) *Virtual { return &Virtual{start: start} }

// Mono returns how far the clock has been moved, and has gone.
func (v *Virtual) Mono() time.Duration {
	mono := time.Duration(v.mono.Load())
	if since := v.going.Load(); since != nil {
		mono += time.Since(*since)
	}
	return mono
}

// Now returns start plus Mono.
func (v *Virtual) Now() time.Time { return v.start.Add(v.Mono()) }

// Trusted is always true.
func (v *Virtual) Trusted() bool { return true }

// Go lets the clock go on from where it stands, as fast as the board's own. From then on Sleep and Wait take time, so
// that whoever has lived through a past with it lives on in the present.
func (v *Virtual) Go() {
	now := time.Now()
	v.going.CompareAndSwap(nil, &now)
}

// Sleep returns at once and does not move the clock: a conversion time on a simulated bus costs nothing. Once the clock
// goes it waits for d.
func (v *Virtual) Sleep(d time.Duration) {
	if v.going.Load() != nil {
		time.Sleep(d)
	}
}

// Wait moves the clock by d and returns at once, or with the context's error. Once the clock goes it waits.
func (v *Virtual) Wait(ctx context.Context, d time.Duration) error {
	if v.going.Load() != nil {
		return wait(ctx, d)
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	v.Advance(d)
	return nil
}

// Advance moves the clock on by d. It never moves back: a wait that is overdue costs no time.
func (v *Virtual) Advance(d time.Duration) { v.mono.Add(int64(max(d, 0))) }
