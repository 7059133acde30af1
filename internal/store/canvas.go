package store

import (
	"math"
	"time"
)

// canvas sums roll-ups into buckets of civil time.
type canvas struct {
	from, to time.Time
	rolls    []roll
}

func newCanvas(from, to time.Time, n int) *canvas {
	return &canvas{from: from, to: to, rolls: make([]roll, n)}
}

// edge returns where bucket i begins. The division comes last, so that rounding does not add up.
func (c *canvas) edge(i int) time.Time {
	span, n := c.to.Sub(c.from), time.Duration(len(c.rolls))
	return c.from.Add(span/n*time.Duration(i) + span%n*time.Duration(i)/n)
}

// add counts what was read at t.
func (c *canvas) add(t time.Time, r *roll) {
	if t.Before(c.from) || !t.Before(c.to) {
		return
	}
	span := c.to.Sub(c.from)
	i := int(float64(t.Sub(c.from)) / float64(span) * float64(len(c.rolls)))
	i = min(i, len(c.rolls)-1)
	// The quotient is rounded: the edges decide.
	if i > 0 && t.Before(c.edge(i)) {
		i--
	} else if i+1 < len(c.rolls) && !t.Before(c.edge(i+1)) {
		i++
	}
	c.rolls[i].merge(r)
}

func (c *canvas) buckets() []Bucket {
	out := make([]Bucket, len(c.rolls))
	for i := range c.rolls {
		r := &c.rolls[i]
		out[i] = Bucket{Start: c.edge(i), End: c.edge(i + 1), Min: math.NaN(), Mean: math.NaN(), Max: math.NaN(), N: int(r.n)}
		if r.n > 0 {
			out[i].Min, out[i].Mean, out[i].Max = r.min, min(max(r.mean(), r.min), r.max), r.max
		}
	}
	return out
}
