package main

import (
	"bytes"
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/estimate"
	"ductward/internal/finding"
)

// suspects is a leak in one of two places, and the test that would tell which.
var suspects = estimate.NextTest{
	Finding: "main.new-leak.20260314", Entropy: 0.97, Refused: 2,
	Suspects: []finding.Place{{Part: "run:trunk 4", Probability: 0.6}, {Part: "drop:saw gate", Members: []string{"drop:saw gate", "seat:saw gate"}, Probability: 0.4}},
	Tests: []estimate.Proposal{
		{Open: []string{"planer gate"}, Ports: map[string]int{"moulder hose": 2}, Duration: 3 * time.Minute, Gain: 0.61, Likeliest: 0.84, Reason: "Because."},
		{Open: []string{}, Duration: 2 * time.Minute, Gain: 0.2, Likeliest: 0.65, Reason: "Or so."},
	},
	Reason: "It tells little.",
}

func TestNextTestInJSON(t *testing.T) {
	text, err := json.Marshal(newNextTestJSON(&suspects))
	require.NoError(t, err)
	assert.JSONEq(t, `{"finding": "main.new-leak.20260314", "entropy_bits": 0.97, "refused_sets": 2, "reason": "It tells little.",
		"suspects": [{"part": "run:trunk 4", "probability": 0.6}, {"part": "drop:saw gate", "members": ["drop:saw gate", "seat:saw gate"], "probability": 0.4}],
		"tests": [{"open": ["planer gate"], "selectors": {"moulder hose": 2}, "duration_s": 180, "gain_bits": 0.61, "likeliest_after": 0.84, "reason": "Because."},
		{"open": [], "selectors": null, "duration_s": 120, "gain_bits": 0.2, "likeliest_after": 0.65, "reason": "Or so."}]}`, string(text))
	text, err = json.Marshal(newNextTestJSON(nil))
	require.NoError(t, err)
	assert.Equal(t, "null", string(text))
}

func TestNextTestForAPerson(t *testing.T) {
	var b bytes.Buffer
	writeNextTest(&b, nil)
	assert.Empty(t, b.String())
	writeNextTest(&b, &suspects)
	assert.Contains(t, b.String(), "next test, for main.new-leak.20260314")
	assert.Contains(t, b.String(), "with every machine idle, open only planer gate for 3 minutes: should tell 0.61 of 0.97 bits. Because.")
	assert.Contains(t, b.String(), "with every machine idle, all gates shut for 2 minutes")
	assert.Contains(t, b.String(), "\n  It tells little.\n")
}
