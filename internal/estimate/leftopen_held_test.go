package estimate

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestWhatStaysMustShowAgain: a run that a gate (of machine 2) or a changed hood (of machine 0) explains is left out once a later
// run, in which the hood would have shown, is as told with that gate told shut; by itself, or where that gate is told open, it
// is not. Where the gate was found open, it is in any case.
func TestWhatStaysMustShowAgain(t *testing.T) {
	told := func(machines ...int) observation {
		return observation{set: &gateSet{machines: machines}, asTold: true}
	}
	for _, c := range []struct {
		name  string
		gate  float64
		found bool
		after []observation
		left  bool
	}{
		{"alone", 0.4, false, nil, false},
		{"the hood is as before", 0.4, false, []observation{told(0)}, true},
		{"the hood was not used", 0.4, false, []observation{told(1)}, false},
		{"that gate is told open", 0.4, false, []observation{told(0, 2)}, false},
		{"hardly a gate", 0.005, false, []observation{told(0)}, false},
		{"found open", 0.005, true, nil, true},
	} {
		h := &held{gates: []float64{0, 0, c.gate}, hoods: []float64{0.9 - c.gate, 0, 0}, other: 0.1, found: c.found}
		d := &dayData{obs: append([]observation{{set: &gateSet{machines: []int{0}}, held: h}}, c.after...)}
		d.leaveOut()
		assert.Equal(t, c.left, len(d.obs) == len(c.after), c.name)
	}
}
