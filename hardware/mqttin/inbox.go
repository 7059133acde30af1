package mqttin

import (
	"errors"
	"fmt"
	"math"
	"sync"
	"time"

	"ductward/internal/reading"
)

// buffered is how many readings wait for a reader; when there are more the oldest are dropped, since with readings that
// hold for now the newest are worth most. It is several minutes of some dozen channels.
const buffered = 1024

// Reasons why a channel has no value that are not about a message.
var (
	ErrOffline = errors.New("there is no connection to the broker")
	ErrSilent  = errors.New("nothing has come")
)

// Trouble is why a channel has no value now.
type Trouble struct {
	Channel string
	Topic   string
	Since   time.Duration // monotonic
	Err     error         // wraps ErrOffline or ErrSilent, or is a *Refusal
}

// Inbox keeps what came: the readings until somebody takes them, and for each channel whether it has a value. It is
// safe for concurrent use.
type Inbox struct {
	decoder *Decoder
	out     chan reading.Reading

	mu       sync.Mutex
	channels []state // by the decoder's inputs
	online   bool
	dropped  uint64
}

type state struct {
	heard   time.Duration // arrival of the last value; before any, when listening began
	valid   bool          // a value came, and is not yet too old
	refused error         // of the last message, when it was none
	since   time.Duration // of the refusal
}

// NewInbox returns an empty inbox at a monotonic time.
func NewInbox(d *Decoder, now time.Duration) *Inbox {
	b := &Inbox{decoder: d, out: make(chan reading.Reading, buffered), channels: make([]state, len(d.inputs))}
	for i := range b.channels {
		b.channels[i].heard = now
	}
	return b
}

// Readings is where the readings wait. It is never closed.
func (b *Inbox) Readings() <-chan reading.Reading { return b.out }

// Dropped tells how many readings nobody took in time.
func (b *Inbox) Dropped() uint64 {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.dropped
}

// Deliver takes one message. It never blocks.
func (b *Inbox) Deliver(topic string, payload []byte, at Stamp) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, i := range b.decoder.byTopic[topic] {
		in, c := &b.decoder.inputs[i], &b.channels[i]
		r, err := in.decode(payload, at)
		if err != nil {
			c.refuse(&Refusal{Channel: in.Channel, Topic: topic, Err: err}, at.Mono)
			continue
		}
		c.heard, c.valid, c.refused = at.Mono, true, nil
		b.push(r)
	}
}

func (c *state) refuse(err error, now time.Duration) {
	if c.refused == nil {
		c.since = now
	}
	c.refused = err
}

// push appends, and drops the oldest when there is no room. The lock makes this the only sender.
func (b *Inbox) push(r reading.Reading) {
	for {
		select {
		case b.out <- r:
			return
		default:
		}
		select {
		case <-b.out:
			b.dropped++
		default: // a reader was quicker
		}
	}
}

// Check finds the values that have become too old at a monotonic time. A switch holds until it is told otherwise, so
// "not known from here on" is sent for it, once; a sensor's silence speaks for itself. civil is zero while the clock is
// not trusted.
func (b *Inbox) Check(now time.Duration, civil time.Time) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for i := range b.channels {
		in, c := &b.decoder.inputs[i], &b.channels[i]
		if !c.valid || now-c.heard <= in.Stale {
			continue
		}
		c.valid = false
		if in.Want.Switch || in.Want.Ports != nil {
			b.push(reading.Reading{Channel: in.Channel, Value: math.NaN(), Time: civil, SD: math.NaN(), Mono: now})
		}
	}
}

// Troubles lists the channels that have no value at a monotonic time, in the order of the decoder's inputs.
func (b *Inbox) Troubles(now time.Duration) []Trouble {
	b.mu.Lock()
	defer b.mu.Unlock()
	var out []Trouble
	for i := range b.channels {
		in, c := &b.decoder.inputs[i], &b.channels[i]
		t := Trouble{Channel: in.Channel, Topic: in.Topic, Since: c.heard}
		switch {
		case c.refused != nil:
			t.Since, t.Err = c.since, c.refused
		case now-c.heard <= in.Stale:
			continue
		case !b.online:
			t.Err = ErrOffline
		default:
			t.Err = fmt.Errorf("%w for %s", ErrSilent, (now - c.heard).Round(time.Second))
		}
		out = append(out, t)
	}
	return out
}

// SetOnline tells whether messages can come at all.
func (b *Inbox) SetOnline(yes bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.online = yes
}
