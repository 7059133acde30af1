package daemon

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"time"

	"ductward/internal/clock"
	"ductward/internal/reading"
	"ductward/internal/store"
)

// mostBack is how old a value may be that is still published: a broker that was away over a holiday gets all of it, in
// minutes, and one that was away for a year is not busy for hours with what nobody waits for.
const mostBack = 7 * 24 * time.Hour

// values are the readings on their way to the broker. None waits in memory: they are read from the store, from the place on
// up to which the broker has taken all, and that place is all that is kept. Its methods belong to one goroutine, but for
// settle.
type values struct {
	store  keeper
	clk    clock.Clock
	packer *packer
	boot   uint32       // of this start
	at     store.Cursor // of the last reading that was taken
	behind []message    // made of what was taken, not yet published

	settled atomic.Int64 // monotonic time before which every reading of this start is in the store
}

func newValues(k keeper, clk clock.Clock, p *packer, boot uint32) *values {
	v := &values{store: k, clk: clk, packer: p, boot: boot, at: k.Published()}
	if v.at == (store.Cursor{}) { // what was read before anybody was there to read it is history
		v.at = store.Cursor{Boot: boot}
		k.SetPublished(v.at)
	}
	p.goOn(v.at)
	return v
}

// settle says that no reading of before mono will come any more, and tells whether a window is over.
func (v *values) settle(mono time.Duration) (over bool) {
	before := time.Duration(v.settled.Swap(int64(mono)))
	return before/v.packer.window != mono/v.packer.window
}

// send publishes what waits, in stored order, until there is no more. With last, no reading will follow.
func (v *values) send(ctx context.Context, last bool, publish func(context.Context, message) error) error {
	settled := time.Duration(v.settled.Load()) // first: all of before it is seen then
	if err := v.clear(ctx, publish); err != nil {
		return err
	}
	oldest := v.clk.Now().Add(-mostBack)
	for r, err := range v.store.Readings(ctx, store.ReadQuery{After: v.at}) {
		var damage *store.DamageError
		if errors.As(err, &damage) {
			continue // the log and an alarm tell of it
		} else if err != nil {
			return fmt.Errorf("read what is to be published: %w", err)
		}
		v.at = store.Cursor{Boot: r.Boot, Mono: r.Mono, Seq: r.Seq}
		if v.stale(&r, settled, oldest) {
			continue
		}
		if v.behind = v.packer.take(&r); len(v.behind) == 0 {
			continue
		}
		if err := v.clear(ctx, publish); err != nil {
			return err
		}
	}
	if v.behind = v.packer.until(v.boot, settled); last {
		v.behind = append(v.behind, v.packer.end()...)
	}
	err := v.clear(ctx, publish)
	if last && err == nil {
		v.store.SetPublished(v.at)
	}
	return err
}

// stale tells whether a reading has nobody to read it any more. One without a time counts as one of now by RFC 8428,
// section 4.5.3, which only a fresh one is.
func (v *values) stale(r *reading.Reading, settled time.Duration, oldest time.Time) bool {
	if r.Time.IsZero() {
		return r.Boot != v.boot || settled-r.Mono > 2*v.packer.window
	}
	return r.Time.Before(oldest)
}

// clear publishes what was made, and notes how far that is.
func (v *values) clear(ctx context.Context, publish func(context.Context, message) error) error {
	for len(v.behind) > 0 {
		if err := publish(ctx, v.behind[0]); err != nil {
			return err
		}
		v.behind = v.behind[1:]
	}
	v.store.SetPublished(v.packer.open())
	return nil
}
