package estimate

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"ductward/internal/steady"
)

// TestWhatIsBelievedOfAGate: one that was found shut counts as not known, until it is told shut or a run shows it open, and without a
// baseline, which could tell how it stands, everything is believed.
func TestWhatIsBelievedOfAGate(t *testing.T) {
	told := newTelling()
	run := func(open ...string) steady.Run { return steady.Run{Kind: steady.Running, Open: open} }
	hear := func(r steady.Run, baseline bool) (steady.Run, []string) {
		settled := told.hear(&r, baseline)
		return told.believed(r), settled
	}

	r, settled := hear(run("a"), false)
	assert.Equal(t, run("a"), r)
	assert.Empty(t, settled)
	assert.True(t, told.Open["a"], "before a baseline nothing tells that it was not open")
	r, _ = hear(run("a", "b"), true)
	assert.Equal(t, run("a", "b"), r)
	assert.False(t, told.Open["b"], "no run has shown it open yet")
	told.asTold([]string{"a", "b"})
	assert.True(t, told.Open["b"])

	told.Doubted["a"] = true
	in := run("a", "b")
	r, settled = hear(in, true)
	assert.Equal(t, steady.Run{Kind: steady.Unknown, Open: []string{"b"}, Unknown: []string{"a"}}, r)
	assert.Equal(t, run("a", "b"), in, "what was told is not written over")
	assert.Empty(t, settled)
	still := steady.Run{Kind: steady.Zero, Open: []string{"a"}}
	assert.Equal(t, still, told.believed(still), "a fan that stands")

	r, settled = hear(run("b"), true)
	assert.Equal(t, run("b"), r)
	assert.Equal(t, []string{"a"}, settled, "told shut")
	hear(run("a", "b"), true)
	assert.False(t, told.Open["a"], "it was told to be opened anew")

	told.Doubted["a"] = true
	assert.Equal(t, []string{"a"}, told.asTold([]string{"a", "b"}), "a run shows it open")
	assert.Empty(t, told.Doubted)

	told.Doubted["a"] = true
	r, settled = hear(run("a", "b"), false)
	assert.Equal(t, run("a", "b"), r)
	assert.Equal(t, []string{"a"}, settled, "a new baseline is in the making")
}

// TestASuspectedGate: what the last run left open of a gate holds until a run shows it open, or it is told shut.
func TestASuspectedGate(t *testing.T) {
	told := newTelling()
	r := steady.Run{Kind: steady.Running, Open: []string{"a", "b"}}
	told.hear(&r, true)
	told.Shut["a"] = 0.6
	assert.True(t, told.suspect(r.Open))
	assert.False(t, told.suspect([]string{"b"}))
	told.asTold([]string{"a"})
	assert.False(t, told.suspect(r.Open))
	told.Shut["b"] = 0.9
	r.Open = []string{"a"}
	told.hear(&r, true)
	assert.Empty(t, told.Shut)
}
