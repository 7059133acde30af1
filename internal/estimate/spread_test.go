package estimate

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestALastingErrorIsSpreadOverFewDays: as many as there are, up to four.
func TestALastingErrorIsSpreadOverFewDays(t *testing.T) {
	e := &Estimator{summary: make([]Day, 20)}
	for onset, want := range map[int]float64{19: 1, 18: 2, 17: 4, 16: 4, 12: 4, 0: 4} {
		assert.Equal(t, want, e.spreadOver(&change{onset: onset}), "%d days", 20-onset)
	}
}
