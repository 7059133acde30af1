package estimate

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/duct"
	"ductward/internal/shop"
	"ductward/internal/steady"
)

// walker returns an estimator over the demo's shop with a rating of its own.
func walker(t testing.TB, rating float64) *Estimator {
	t.Helper()
	s, problems, err := shop.Load("../../hardware/rig/shop.yaml")
	require.NoError(t, err)
	require.NoError(t, shop.Errors(problems))
	s.Collectors[0].Rating = rating
	e, err := New(s, s.Collectors[0])
	require.NoError(t, err)
	return e
}

// proposed lists the machines of the steps that a walk would still ask for, and how many it refuses.
func proposed(e *Estimator) (missing []string, refused int) {
	for _, s := range e.walk() {
		switch {
		case s.Done:
		case s.Borne:
			missing = append(missing, s.Machine)
		default:
			refused++
		}
	}
	return missing, refused
}

func TestWalkProposesOnlyWhatTheDuctsBear(t *testing.T) {
	machines := len(walker(t, 4000).collector.Machines)
	missing, refused := proposed(walker(t, 4000))
	assert.Len(t, missing, machines, "rated above the fan's shut-off: every gate may be open alone")
	assert.Zero(t, refused)

	e := walker(t, 3100)
	missing, refused = proposed(e)
	assert.NotEmpty(t, missing)
	assert.Positive(t, refused, "alone, the small drops may pull the trunk below 3.1 kPa")
	for _, name := range missing {
		res, err := e.viewer.model.Solve(duct.State{Setting: e.aloneSet(name).setting})
		require.NoError(t, err)
		assert.Less(t, -res.InletStatic, 2900.0, "suction in Pa with %s alone, as drawn: well below the rating, for what may be worse", name)
	}

	missing, refused = proposed(walker(t, math.NaN()))
	assert.Empty(t, missing, "no rating: nothing is proposed")
	assert.Equal(t, machines, refused)
	assert.Contains(t, walker(t, math.NaN()).Baseline().Lacks, "rating for negative pressure is not entered")
}

func TestWalkLeavesOutWhatTheBaselineHasSeen(t *testing.T) {
	e := walker(t, 4000)
	set := e.aloneSet("band saw")
	r := steady.Run{Kind: steady.Running, Open: set.open}
	for _, s := range e.collector.Selectors {
		r.Ports = append(r.Ports, steady.Port{Selector: s.Name, Port: 2}) // where the hose hangs makes no difference
	}
	r.Kind = steady.Running
	assert.Equal(t, e.walk()[slices.IndexFunc(e.walk(), func(s Step) bool { return s.Machine == "band saw" })].Set, e.Now(r, true).Set)
	e.open = &dayData{obs: []observation{{set: e.setOf(&r)}}}
	missing, _ := proposed(e)
	assert.NotContains(t, missing, "band saw")
	assert.Contains(t, missing, "mortiser")
	e.gathered, e.open = []*dayData{e.open}, nil
	missing, _ = proposed(e)
	assert.NotContains(t, missing, "band saw")

	e.supersede()
	missing, _ = proposed(e)
	assert.Contains(t, missing, "band saw", "a new baseline has to see it again")
}

// TestWalkWithoutARatingKeepsToWhatTheShopRuns.
func TestWalkWithoutARatingKeepsToWhatTheShopRuns(t *testing.T) {
	e := walker(t, math.NaN())
	e.setOf(&steady.Run{Kind: steady.Running, Open: e.aloneSet("band saw").open, Ports: e.walk()[0].Ports})
	missing, _ := proposed(e)
	assert.Equal(t, []string{"band saw"}, missing)
}

// TestWalkHeedsTheRatingOfEachRun: runs that are rated for less than the collector forbid what it would bear, and runs that
// are all rated need no rating of the collector.
func TestWalkHeedsTheRatingOfEachRun(t *testing.T) {
	e := walker(t, 4000)
	for _, r := range e.collector.Network.Runs {
		r.Rating = 1000
	}
	missing, refused := proposed(e)
	assert.Empty(t, missing, "every gate alone pulls more than 1 kPa somewhere")
	assert.Equal(t, len(e.collector.Machines), refused)

	e = walker(t, math.NaN())
	for _, r := range e.collector.Network.Runs {
		r.Rating = 4000
	}
	missing, refused = proposed(e)
	assert.Len(t, missing, len(e.collector.Machines), "each run is rated above the fan's shut-off")
	assert.Zero(t, refused)
	assert.NotContains(t, strings.Join(e.missing(), " "), "rating")
	assert.True(t, e.bears(e.closedSet()))

	e.collector.Network.Runs[0].Rating = math.NaN()
	missing, _ = proposed(e)
	assert.Empty(t, missing, "one run whose rating nobody knows is enough")
	assert.False(t, e.bears(e.closedSet()))
}

// TestClosedCheckNeedsMoreThanShutOff: with all gates shut the suction may reach the largest pressure of the fan's curve
// in dense air, whatever leaks, and for a curve with a hump that is not the pressure at no flow.
func TestClosedCheckNeedsMoreThanShutOff(t *testing.T) {
	e := walker(t, 4000)
	most := e.viewer.model.LargestRise(e.densestAir().Density)
	assert.Greater(t, most, 1.1*e.shutOff(), "Pa, in cold air")
	for _, c := range []struct {
		rating float64
		bears  bool
	}{{most - 1, false}, {most + 1, true}, {math.NaN(), false}} {
		e := walker(t, c.rating)
		assert.Equal(t, c.bears, e.bears(e.closedSet()), "rated %.0f Pa, the fan %.0f Pa", c.rating, most)
	}
	e = walker(t, math.NaN())
	e.setOf(&steady.Run{Kind: steady.Closed, Ports: e.restingPorts(shop.Setting{})})
	assert.True(t, e.bears(e.closedSet()), "the shop does that already")
}
