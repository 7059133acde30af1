package improve

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/duct"
	"ductward/internal/verdict"
)

// small is a shop with a long trunk that is too narrow for the planer, and a lathe whose little air must carry its dust
// through the same trunk.
const small = head + `    transport_velocity: 15 m/s
    machines: [{machine: planer, needs: 1500 m3/h}, {machine: lathe, needs: 700 m3/h}]
    gates: [{gate: planer gate, position: by hand}, {gate: lathe gate, position: by hand}]
    ducts:
      tightness: C
      runs:
        - {run: planer drop, from: planer, to: wye, diameter: 140 mm, length: 3 m, gate: planer gate, fittings: [{measured: {drop: 400 Pa, flow: 1100 m3/h}}]}
        - {run: lathe drop, from: lathe, to: wye, diameter: 100 mm, length: 4 m, gate: lathe gate, fittings: [{measured: {drop: 900 Pa, flow: 700 m3/h}}]}
        - {run: trunk, from: wye, to: collector, diameter: 140 mm, length: 14 m}
      junctions: [{junction: wye, kind: wye, angle: 45 deg, straight: planer drop, branch: lathe drop}]
`

// TestLargerTrunkIsRefusedForTheSmallMachine: the largest pipe is best only as long as the dust still flies.
func TestLargerTrunkIsRefusedForTheSmallMachine(t *testing.T) {
	c := read(t, small).Collectors[0]
	a, err := Of(c, Question{})
	require.NoError(t, err)
	require.NotEmpty(t, a.Refused)
	p := a.Refused[0]
	require.Equal(t, LargerTrunk, p.Kind, p.Text)
	require.Contains(t, p.Text, "160 mm instead of 140 mm in the trunk")
	for _, q := range a.Advised {
		require.NotEqual(t, p.Text, q.Text)
		require.Less(t, q.Gain, p.Gain, "it would bring most air of all, and is not advised all the same")
	}

	// The velocity that is named is that of the drawing changed by hand, with the lathe alone.
	wide := read(t, replaced(t, small, "{run: trunk, from: wye, to: collector, diameter: 140 mm, length: 14 m}",
		"{run: trunk, from: wye, to: last, diameter: 160 mm, length: 14 m}\n"+
			"        - {run: last, to: collector, diameter: 140 mm, length: 200 mm, fittings: [{contraction: {from: 160 mm, angle: 30 deg}}]}")).Collectors[0]
	m, err := duct.New(wide)
	require.NoError(t, err)
	st, err := verdict.Opening(wide, "lathe")
	require.NoError(t, err)
	r, err := m.Solve(duct.State{Setting: st})
	require.NoError(t, err)
	velocity := r.Runs[2].Flow / (math.Pi / 4 * 0.16 * 0.16)
	s := p.Since[0]
	assert.Equal(t, []string{"trunk", "lathe alone"}, []string{s.Run, s.Set.Name()})
	assert.InEpsilon(t, velocity, s.Velocity, 1e-6, "m/s")
	assert.Less(t, s.Velocity, 15.0)
	assert.True(t, math.IsNaN(s.Before), "it carried before")
	assert.Contains(t, p.Why(a.Least), "since dust would settle in trunk with lathe alone: ")
	assert.Contains(t, p.Why(a.Least), " m/s of the 15 m/s that carry it")
}

// TestSlowAlreadyIsNoExcuse: a wider trunk is refused as well where the dust settles already.
func TestSlowAlreadyIsNoExcuse(t *testing.T) {
	slow := strings.Replace(small, "transport_velocity: 15 m/s", "transport_velocity: 27 m/s", 1)
	a, err := Of(read(t, slow).Collectors[0], Question{})
	require.NoError(t, err)
	for _, p := range a.Advised {
		assert.NotEqual(t, LargerTrunk, p.Kind)
	}
	found := false
	for _, p := range a.Refused {
		if p.Kind == LargerTrunk {
			found = true
			for _, s := range p.Since {
				assert.Less(t, s.Velocity, 27.0)
			}
			assert.True(t, strings.Contains(p.Why(a.Least), "too slow already") || strings.Contains(p.Why(a.Least), "more like it"), p.Why(a.Least))
		}
	}
	assert.True(t, found)
}

// TestSuctionBeyondTheRating: a change that makes the suction too much for the ducts is refused.
func TestSuctionBeyondTheRating(t *testing.T) {
	text := strings.Replace(small, "drop: 40 Pa", "drop: 400 Pa", 1)
	c := read(t, text).Collectors[0]
	sets, _ := UsualSets(c)
	strongest := 0.0
	for _, o := range base(t, c, sets) {
		strongest = math.Max(strongest, o.pull)
	}
	c.Rating = strongest + 5 // Pa
	a, err := Of(c, Question{})
	require.NoError(t, err)
	var refused *Proposal
	for i, p := range a.Refused {
		if p.Kind == LargerFilter {
			refused = &a.Refused[i]
		}
	}
	require.NotNil(t, refused, "a larger filter leaves more suction for the ducts")
	assert.Greater(t, refused.Since[0].Suction, c.Rating)
	assert.Contains(t, refused.Why(a.Least), "since the suction would be")
}
