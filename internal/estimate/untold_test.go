package estimate

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"ductward/internal/detect"
)

// TestWhatMayHaveChangedUntold: worked out by hand. Odds of a slip against nothing are its prior times what the record says.
func TestWhatMayHaveChangedUntold(t *testing.T) {
	const fan, leak = 3, 0
	hyps := []detect.Hypothesis{{Param: fan, Weight: 0.09}, {Param: leak, Weight: 0.5, Sign: 1}}
	even := -math.Log(suddenLeak * 0.09)
	slip := detect.Score{Hypothesis: 0, Size: -0.015, Variance: 0.003 * 0.003, Evidence: even}

	none := untoldOf(fan, nil, hyps)
	assert.Equal(t, Value{}, none, "nothing was looked at")

	half := untoldOf(fan, []detect.Score{slip}, hyps)
	assert.InDelta(t, -0.0075, half.V, 1e-12)
	assert.InDelta(t, math.Sqrt((0.015*0.015+0.003*0.003)/2-0.0075*0.0075), half.SE, 1e-12)

	slip.Evidence = 0
	p := suddenLeak * 0.09 / (1 + suddenLeak*0.09)
	assert.InDelta(t, -0.015*p, untoldOf(fan, []detect.Score{slip}, hyps).V, 1e-12, "a record that says nothing leaves the prior")

	slip.Evidence = 900 // of which no float64 holds the exponential
	sure := untoldOf(fan, []detect.Score{slip}, hyps)
	assert.InDelta(t, -0.015, sure.V, 1e-12)
	assert.InDelta(t, 0.003, sure.SE, 1e-9)

	slip.Evidence = even
	rival := detect.Score{Hypothesis: 1, Size: 0.01, Evidence: -math.Log(suddenLeak * 0.5)}
	assert.InDelta(t, -0.005, untoldOf(fan, []detect.Score{slip, rival}, hyps).V, 1e-12, "a leak that is as likely takes its third")
	rival.Size = -0.01
	assert.InDelta(t, -0.0075, untoldOf(fan, []detect.Score{slip, rival}, hyps).V, 1e-12, "and none that would close what never opened")
}
