package steady

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// TestAStretchIsCutForATest: each time that the air has been steady for as long as asked, and no longer once it is over.
func TestAStretchIsCutForATest(t *testing.T) {
	b := newBench(t, twoGates())
	b.shut()
	b.put("gate/saw", 1)
	b.sample(time.Minute, -900, 400)
	assert.Empty(t, b.runs)
	assert.InDelta(t, 37, b.f.Standing().Seconds(), 1.5, "the first twenty seconds are transient, and the last three held back")

	b.f.CutAfter(2 * time.Minute)
	b.sample(90*time.Second, -900, 400)
	run := b.one()
	assert.Equal(t, Running, run.Kind)
	assert.Equal(t, []string{"saw"}, run.Open)
	assert.InDelta(t, 143, (run.End - run.Start).Seconds(), 2, "s: transient, two minutes, and what is held back")
	assert.InDelta(t, -900, of(t, run, "main/trunk").Mean, 0.5, "Pa")
	assert.InDelta(t, 127, b.f.Standing().Seconds(), 2, "s: nothing has moved")

	b.sample(4*time.Minute, -900, 400)
	assert.Len(t, b.runs, 3, "and twice again, without a transient")
	b.f.CutAfter(0)
	b.sample(10*time.Minute, -900, 400)
	assert.Len(t, b.runs, 3, "after an hour, as usual")
	b.put("gate/planer", 1)
	b.sample(time.Second, -900, 400)
	assert.Zero(t, b.f.Standing(), "a gate has moved")
	b.put("main/fan", 0)
	b.sample(2*time.Minute, 0, 0)
	assert.Zero(t, b.f.Standing(), "no air moves")
}
