package clock

import (
	"context"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var (
	_ Clock = (*System)(nil)
	_ Clock = (*Virtual)(nil)
)

var start = time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)

// TestVirtualMovesOnlyWhenItIsMoved, and a wait moves it at once.
func TestVirtualMovesOnlyWhenItIsMoved(t *testing.T) {
	v := NewVirtual(start)
	assert.Zero(t, v.Mono())
	assert.Equal(t, start, v.Now())
	assert.True(t, v.Trusted())

	v.Advance(90 * time.Second)
	require.NoError(t, v.Wait(context.Background(), 30*time.Second))
	v.Sleep(time.Hour) // costs nothing
	assert.Equal(t, 2*time.Minute, v.Mono())
	assert.Equal(t, start.Add(2*time.Minute), v.Now())
}

// TestVirtualGoesOnWhereItStood, from the moment at which it is told to, and then takes its time.
func TestVirtualGoesOnWhereItStood(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		v := NewVirtual(start)
		v.Advance(time.Hour)
		time.Sleep(time.Minute)
		assert.Equal(t, time.Hour, v.Mono(), "it stands")
		v.Go()
		assert.Equal(t, time.Hour, v.Mono())
		time.Sleep(time.Second)
		v.Go() // once is enough
		v.Sleep(2 * time.Second)
		require.NoError(t, v.Wait(t.Context(), 3*time.Second))
		assert.Equal(t, time.Hour+6*time.Second, v.Mono())
		assert.Equal(t, start.Add(time.Hour+6*time.Second), v.Now())
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		require.ErrorIs(t, v.Wait(ctx, time.Hour), context.DeadlineExceeded)
		assert.Equal(t, time.Hour+7*time.Second, v.Mono())
	})
}

// TestVirtualStopsWithItsContext without moving.
func TestVirtualStopsWithItsContext(t *testing.T) {
	v := NewVirtual(start)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	assert.ErrorIs(t, v.Wait(ctx, time.Hour), context.Canceled)
	assert.Zero(t, v.Mono())
}

// TestVirtualNeverGoesBack: an overdue wait, or any other, leaves Mono where it was or later, and Now beside it.
func TestVirtualNeverGoesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := NewVirtual(start)
		var last time.Duration
		for range 20 {
			d := time.Duration(rapid.Int64Range(-int64(time.Hour), int64(time.Hour)).Draw(t, "d"))
			if rapid.Bool().Draw(t, "wait") {
				require.NoError(t, v.Wait(context.Background(), d))
			} else {
				v.Advance(d)
			}
			assert.Equal(t, last+max(d, 0), v.Mono())
			last = v.Mono()
			assert.Equal(t, start.Add(last), v.Now())
		}
	})
}

// TestVirtualIsSafeForManyCallers; the race detector watches.
func TestVirtualIsSafeForManyCallers(t *testing.T) {
	v := NewVirtual(start)
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			for range 100 {
				v.Advance(time.Second)
				_ = v.Now()
				_ = v.Mono()
			}
		})
	}
	all.Wait()
	assert.Equal(t, 800*time.Second, v.Mono())
}

// TestSystemWaits in a bubble of simulated time, which begins in the year 2000: a board without a clock chip.
func TestSystemWaits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := NewSystem()
		assert.Zero(t, s.Mono())
		assert.False(t, s.Trusted(), "it is %v", s.Now())
		require.NoError(t, s.Wait(t.Context(), 3*time.Second))
		assert.Equal(t, 3*time.Second, s.Mono())
		s.Sleep(time.Second)
		assert.Equal(t, 4*time.Second, s.Mono())
		require.NoError(t, s.Wait(t.Context(), -time.Hour), "overdue")
		assert.Equal(t, 4*time.Second, s.Mono())
		assert.Equal(t, time.Now(), s.Now())
	})
}

// TestSystemIsTrustedFromTheYearOfTheProgram on.
func TestSystemIsTrustedFromTheYearOfTheProgram(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := NewSystem()
		last := time.Date(firstBelievableYear, 1, 1, 0, 0, 0, 0, time.Local).Add(-time.Second)
		require.NoError(t, s.Wait(t.Context(), time.Until(last)))
		assert.False(t, s.Trusted(), "it is %v", s.Now())
		require.NoError(t, s.Wait(t.Context(), time.Second))
		assert.True(t, s.Trusted(), "it is %v", s.Now())
	})
}

// TestSystemStopsWithItsContext: in the middle of a wait, and before it even if there is nothing to wait for.
func TestSystemStopsWithItsContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := NewSystem()
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		assert.ErrorIs(t, s.Wait(ctx, time.Hour), context.DeadlineExceeded)
		assert.Equal(t, time.Second, s.Mono())
		for range 100 {
			assert.ErrorIs(t, s.Wait(ctx, 0), context.DeadlineExceeded)
		}
		assert.Equal(t, time.Second, s.Mono())
	})
}
