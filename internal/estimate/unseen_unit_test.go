package estimate

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/shop"
	"ductward/internal/steady"
)

// TestAMoveWhereAStretchIsCut: the run after it is no longer the run before it, though neither shows a step.
func TestAMoveWhereAStretchIsCut(t *testing.T) {
	run := func(trunk, filter float64) *steady.Run {
		return &steady.Run{Channels: []steady.Summary{{Channel: "filter", Mean: filter, SE: 1}, {Channel: "trunk", Mean: trunk, SE: 4}}}
	}
	assert.True(t, readsAlike(run(-2000, 300), run(-1990, 302)))
	assert.False(t, readsAlike(run(-2000, 300), run(-1900, 302)), "the trunk's suction fell by 5 %")
	assert.False(t, readsAlike(run(-2000, 300), run(-2000, 330)))
	assert.True(t, readsAlike(run(-2000, 300), &steady.Run{}), "nothing to tell them apart by")
}

// TestCandidatesOfARun: what is known stays as it is, and what is not known takes every set within bounds.
func TestCandidatesOfARun(t *testing.T) {
	s, problems, err := shop.Load("../../hardware/rig/shop.yaml")
	require.NoError(t, err)
	require.NoError(t, shop.Errors(problems))
	e, err := New(s, s.Collectors[0])
	require.NoError(t, err)
	var gates []string
	for _, g := range e.collector.Gates {
		gates = append(gates, g.Name)
	}
	ports := []steady.Port{{Selector: e.collector.Selectors[0].Name, Port: 1}}
	u := &unseen{used: map[string]float64{}, sets: map[string][]int{}}

	all := &steady.Run{Kind: steady.Unknown, Unknown: gates, Ports: ports}
	keys := map[string]bool{}
	for _, c := range e.possible(u, all) {
		assert.False(t, keys[c.set.key], "twice: %s", c.set.key)
		keys[c.set.key] = true
		assert.LessOrEqual(t, len(c.wanted), 3)
	}
	n := float64(len(gates)) // two machines hang on one hose, whose port is known
	assert.InDelta(t, 1+n+choose(int(n), 2)+choose(int(n), 3), float64(len(keys)), 0)

	one := &steady.Run{Kind: steady.Unknown, Unknown: gates[:1], Open: gates[1:2], Ports: ports}
	few := e.possible(u, one)
	require.Len(t, few, 2)
	for _, c := range few {
		assert.Contains(t, c.set.open, gates[1], "known to be open")
	}
	usual, missing := u.usual(few, 1)
	assert.Len(t, usual, 2)
	assert.InDelta(t, 0, missing, 1e-9, "nothing is left out where one gate is open or shut")
}

// TestWhatWasNeverRunIsExpectedAsOftenAsWhatWasRunOnce: of a hundred runs of pairs, twelve pairs once, four twice and one
// eighty times, absolute discounting leaves 12/(12+2·4) = 0.6 of a run of each of the 17 to the pairs never run.
func TestWhatWasNeverRunIsExpectedAsOftenAsWhatWasRunOnce(t *testing.T) {
	u := &unseen{used: map[string]float64{}, sets: map[string][]int{}}
	var pairs []candidateSet
	for a := range 8 {
		for b := range a {
			key := fmt.Sprint(b, a)
			pairs = append(pairs, candidateSet{set: gateSet{key: key}, wanted: []int{b, a}})
			n := map[bool]float64{true: 1}[len(pairs) <= 12]
			switch {
			case len(pairs) > 12 && len(pairs) <= 16:
				n = 2
			case len(pairs) == 17:
				n = 80
			}
			if n > 0 {
				u.count(&gateSet{key: key, machines: []int{b, a}}, n)
			}
		}
	}
	require.Equal(t, 100.0, u.runs)
	h := u.habits()[2]
	assert.Equal(t, 17.0, h.kinds)
	assert.InDelta(t, 0.6, h.discount, 1e-12)
	usual, _ := u.usual(pairs, 8)
	record := 100 / (100 + unseenBelief)
	byPrior := (1 - record) * usualOpen[2] / 28
	assert.InDelta(t, byPrior+record*79.4/100, usual[16], 1e-12)
	assert.InDelta(t, byPrior+record*0.4/100, usual[0], 1e-12)
	never, all := 0.0, 0.0
	for i, w := range usual {
		all += w
		if i >= 17 {
			assert.Equal(t, usual[17], w)
			never += w - byPrior
		}
	}
	assert.InDelta(t, record*0.6*17/100, never, 1e-12)
	assert.InDelta(t, record+(1-record)*usualOpen[2], all, 1e-12, "nothing is lost")

	u.used[pairs[0].set.key] = 3
	for _, p := range pairs[1:17] {
		u.used[p.set.key] = 3
	}
	assert.Zero(t, u.habits()[2].discount, "a shop that has run all its sets again and again brings no new ones")
}
