package rig

import (
	"time"

	"ductward/internal/clock"
)

// Past moves plants with the clock of a history that is being made.
type Past struct {
	Plants *Demo
	Clock  *clock.Virtual
	Err    error // the first
}

// Advance brings the plants to the clock's moment, which has been moved already.
func (p *Past) Advance(time.Duration) {
	if err := p.Plants.Advance(); err != nil && p.Err == nil {
		p.Err = err
	}
}

// Next returns when a gate, a selector or a fan moves next.
func (p *Past) Next() time.Duration {
	return p.Clock.Mono() + p.Plants.NextMove().Sub(p.Clock.Now())
}
