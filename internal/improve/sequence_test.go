package improve

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/duct"
)

// TestStepsAreSolvedInPlace draws the steps one after the other once more, and finds each gain between two solves.
func TestStepsAreSolvedInPlace(t *testing.T) {
	for _, path := range []string{"testdata/poor.yaml", "../../hardware/rig/shop.yaml"} {
		s := load(t, path)
		c := s.Collectors[0]
		a, err := Of(c, Question{Prices: s.Prices})
		require.NoError(t, err)
		require.GreaterOrEqual(t, len(a.Steps), 2, path)
		d, was := newDraft(c, 1), base(t, c, a.Sets)
		places, total := map[string]bool{}, 0.0
		for _, step := range a.Steps {
			require.False(t, places[step.Place], "one place is changed once")
			places[step.Place] = true
			var ch change
			for _, x := range changes(d.Collector, d.filter) {
				if x.text == step.Text {
					ch = x
				}
			}
			require.NotNil(t, ch.draw, step.Text)
			next := tryOne(d, ch, a.Sets, duct.State{})
			require.NoError(t, next.err)
			require.False(t, next.draft.again, "no run is bought twice")
			_, gain := aimAt(c, a.Sets, was).gains(c, a.Sets, was, next.trial)
			assert.InDelta(t, gain, step.Gain, 1e-12, "m³/s")
			assert.Equal(t, short(c, a.Sets, next.trial), step.Short)
			total += step.Cost
			assert.Equal(t, math.IsNaN(total), math.IsNaN(step.Total))
			if !math.IsNaN(total) {
				assert.InDelta(t, total, step.Total, 1e-9)
			}
			d, was = next.draft, next.trial
		}
	}
}

// TestFirstStepIsTheBestThatTakesNobodysNeed.
func TestFirstStepIsTheBestThatTakesNobodysNeed(t *testing.T) {
	for _, c := range drawn(t) {
		a, err := Of(c, Question{})
		require.NoError(t, err)
		for _, p := range a.Advised {
			if !p.NewlyShort() {
				require.NotEmpty(t, a.Steps)
				assert.Equal(t, p.Text, a.Steps[0].Text)
				assert.InDelta(t, p.Gain, a.Steps[0].Gain, 1e-12)
				break
			}
		}
	}
}

// TestStepsEndWhereEverybodyIsServed: one change is enough, so there is one step.
func TestStepsEndWhereEverybodyIsServed(t *testing.T) {
	c := read(t, one("1900 m3/h", "diameter: 120 mm, length: 3 m, fittings: [{measured: {drop: 900 Pa, flow: 880 m3/h}}, {elbow: 90 deg, make: mitred}, {elbow: 90 deg, make: smooth, radius: 0.75}]")).Collectors[0]
	hopeless, err := Of(c, Question{})
	require.NoError(t, err)
	require.Greater(t, len(hopeless.Steps), 1)
	c.Machines[0].Needs = (hopeless.Steps[0].Gains[0].Before + hopeless.Steps[0].Gains[0].After) / 2
	a, err := Of(c, Question{})
	require.NoError(t, err)
	require.Equal(t, 1, a.Short)
	require.Len(t, a.Steps, 1)
	assert.Empty(t, a.Steps[0].Still)
	assert.True(t, a.Served())
}
