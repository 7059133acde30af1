package store

import (
	"cmp"
	"time"

	"ductward/internal/reading"
)

// rec is one reading without its channel and boot, which stand in the block's key.
type rec struct {
	mono int64 // ns
	seq  uint64
	val  float64
	sd   float64
	span int64 // ns
	n    uint32
	boot uint32
	q    uint8
}

// compare orders by boot, monotonic time and sequence.
func (a *rec) compare(b *rec) int {
	switch {
	case a.boot != b.boot:
		return cmp.Compare(a.boot, b.boot)
	case a.mono < b.mono || a.mono == b.mono && a.seq < b.seq:
		return -1
	case a.mono == b.mono && a.seq == b.seq:
		return 0
	}
	return 1
}

func (a *rec) cursor() Cursor { return Cursor{a.boot, time.Duration(a.mono), a.seq} }

func (a *rec) day() int64 { return a.mono / int64(day) }

// reading turns r into a reading of channel, placed at zero + mono if zero is known.
func (a *rec) reading(channel string, zero time.Time) reading.Reading {
	r := reading.Reading{Channel: channel, Value: a.val, Span: time.Duration(a.span), SD: a.sd, N: int(a.n),
		Quality: reading.Quality(a.q), Boot: a.boot, Mono: time.Duration(a.mono), Seq: a.seq}
	if !zero.IsZero() {
		r.Time = zero.Add(r.Mono)
	}
	return r
}
