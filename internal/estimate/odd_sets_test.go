package estimate

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"ductward/internal/finding"
)

// TestASetThatIsBuiltOdd: one that reads as with one gate more on two days, and never as told, is learnt on the third; one that the
// baseline knows never is.
func TestASetThatIsBuiltOdd(t *testing.T) {
	e := demo(t)
	e.cal = &calibration{fresh: []float64{0.01, 0.02}, bias: map[string][]float64{}, variance: map[string][]float64{"known": {1e-4, 1e-4}}}
	set, known := &gateSet{key: "a+b+"}, &gateSet{key: "known"}
	day := func() { e.summary = append(e.summary, Day{}) }

	assert.False(t, e.isBuiltOdd(set))
	assert.False(t, e.isBuiltOdd(set), "twice on one day is once")
	day()
	assert.False(t, e.isBuiltOdd(set))
	assert.False(t, e.isBuiltOdd(set))
	assert.Nil(t, e.cal.variance["a+b+"])
	day()
	e.findings = append(e.findings, finding.Finding{Kind: finding.GateLeftOpen})
	assert.False(t, e.isBuiltOdd(set), "a gate stands open")
	e.findings = nil
	assert.True(t, e.isBuiltOdd(set))
	assert.Equal(t, []float64{0.01, 0.02}, e.cal.bias["a+b+"])
	assert.InDeltaSlice(t, []float64{0.09, 0.09}, e.cal.variance["a+b+"], 1e-12)
	assert.False(t, e.isBuiltOdd(set), "it is known by now")
	for range 4 {
		assert.False(t, e.isBuiltOdd(known))
		day()
	}
}
