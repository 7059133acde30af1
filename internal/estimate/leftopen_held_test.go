package estimate

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"ductward/internal/steady"
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

// TestRunsBeforeAGateWasFound are so too, back to one that is as told with that gate told otherwise; one with the gate told as it was
// found is no such one.
func TestRunsBeforeAGateWasFound(t *testing.T) {
	run := func(asTold bool, open ...string) observation {
		o := observation{run: &steady.Run{Open: open}, asTold: asTold}
		if !asTold {
			o.held = &held{}
		}
		return o
	}
	d := &dayData{obs: []observation{run(false, "saw"), run(true, "saw"), run(false, "lathe"), run(true, "saw", "planer"), run(false, "lathe")}}
	d.foundOtherwise(toldOpen, []string{"planer", "router"})
	var found []bool
	for _, o := range d.obs {
		found = append(found, o.held != nil && o.held.found)
	}
	assert.Equal(t, []bool{false, false, true, false, true}, found)
}
