package mqttin

import (
	"errors"
	"fmt"
	"math"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func inbox(t testing.TB) *Inbox {
	d, err := NewDecoder([]Input{
		{Channel: "main/dp", Topic: "dp", Unit: "Pa", Stale: 30 * time.Second, Want: pressure},
		{Channel: "gate/saw", Topic: "saw", Stale: 60 * time.Second, Want: aSwitch},
	})
	require.NoError(t, err)
	return NewInbox(d, 0)
}

func at(s int) Stamp { return Stamp{Mono: time.Duration(s) * time.Second} }

func TestInboxGoesStale(t *testing.T) {
	b := inbox(t)
	b.SetOnline(true)
	assert.Empty(t, b.Troubles(30*time.Second), "at the start there is as much patience as later")
	b.Deliver("dp", []byte("250"), at(10))
	b.Deliver("saw", []byte("open"), at(10))
	assert.Equal(t, 250.0, (<-b.Readings()).Value)
	assert.Equal(t, 1.0, (<-b.Readings()).Value)

	b.Check(40*time.Second, noon)
	assert.Empty(t, b.Troubles(40*time.Second))
	b.Check(41*time.Second, noon)
	tr := b.Troubles(41 * time.Second)
	require.Len(t, tr, 1)
	assert.Equal(t, "main/dp", tr[0].Channel)
	assert.ErrorIs(t, tr[0].Err, ErrSilent)
	assert.Equal(t, 10*time.Second, tr[0].Since)
	assert.Empty(t, b.Readings(), "a sensor's silence is no reading")

	for s := 71; s < 80; s++ {
		b.Check(time.Duration(s)*time.Second, noon)
	}
	r := <-b.Readings()
	assert.Equal(t, "gate/saw", r.Channel)
	assert.True(t, math.IsNaN(r.Value), "not known from here on")
	assert.Equal(t, 71*time.Second, r.Mono)
	assert.Equal(t, noon, r.Time)
	assert.Empty(t, b.Readings(), "and that once")
	assert.Len(t, b.Troubles(80*time.Second), 2)

	b.SetOnline(false)
	for _, x := range b.Troubles(80 * time.Second) {
		assert.ErrorIs(t, x.Err, ErrOffline)
	}
	b.Deliver("saw", []byte("shut"), at(81))
	assert.Equal(t, 0.0, (<-b.Readings()).Value)
	assert.Len(t, b.Troubles(82*time.Second), 1)
}

func TestInboxRefuses(t *testing.T) {
	b := inbox(t)
	b.SetOnline(true)
	b.Deliver("dp", []byte("250"), at(1))
	<-b.Readings()
	b.Deliver("dp", []byte("NaN"), at(2))
	b.Deliver("dp", []byte("NaN"), at(3))
	tr := b.Troubles(4 * time.Second)
	require.Len(t, tr, 1)
	var r *Refusal
	require.True(t, errors.As(tr[0].Err, &r))
	assert.Equal(t, 2*time.Second, tr[0].Since)
	assert.Empty(t, b.Readings())
	b.Deliver("dp", []byte("251"), at(4))
	assert.Empty(t, b.Troubles(5*time.Second))
}

// TestInboxDropsTheOldest: when nobody takes them, the newest readings are kept.
func TestInboxDropsTheOldest(t *testing.T) {
	b := inbox(t)
	const n = buffered + 100
	for i := range n {
		b.Deliver("dp", []byte(fmt.Sprint(i)), at(i))
	}
	assert.Equal(t, uint64(100), b.Dropped())
	for i := 100; i < n; i++ {
		require.Equal(t, float64(i), (<-b.Readings()).Value)
	}
	assert.Empty(t, b.Readings())
}

func TestInboxConcurrently(t *testing.T) {
	b := inbox(t)
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			for i := range 1000 {
				b.Deliver("dp", []byte("1"), at(i))
				b.Check(time.Duration(i)*time.Second, noon)
				b.Troubles(time.Duration(i) * time.Second)
			}
		})
	}
	taken := 0
	stop := make(chan struct{})
	go func() { wg.Wait(); close(stop) }()
	for done := false; !done; {
		select {
		case <-b.Readings():
			taken++
		case <-stop:
			done = true
		}
	}
	taken += len(b.Readings())
	assert.Equal(t, uint64(4000), uint64(taken)+b.Dropped(), "every reading is taken or counted as dropped")
}
