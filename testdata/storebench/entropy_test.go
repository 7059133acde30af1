package main

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// A fair coin takes a bit, four equal values two, and a constant none: Shannon, A Mathematical Theory of Communication
// (1948), section 6.
func TestBitsOfKnownSources(t *testing.T) {
	assert.InDelta(t, 10, bitsOf(map[int64]int{0: 5, 1: 5}), 1e-12)
	assert.InDelta(t, 16, bitsOf(map[int64]int{0: 2, 1: 2, 7: 2, 9: 2}), 1e-12)
	assert.Zero(t, bitsOf(map[int64]int{3: 12}))
}

func TestWorkloadRunsTheFanSixHoursADay(t *testing.T) {
	w := newWorkload(16, 1)
	running := 0
	for second := range 86400 {
		at := time.Duration(second) * time.Second
		if rs := w.at(1, at, at); rs[15].Value == 1 {
			running++
		}
	}
	assert.Equal(t, 6*3600, running)
	assert.Equal(t, uint64(16*86400), w.seq)
}
