package estimate

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/shop"
	"ductward/internal/steady"
)

// walker returns an estimator over the demo's shop with a rating of its own.
func walker(t *testing.T, rating float64) *Estimator {
	t.Helper()
	s, problems, err := shop.Load("../../hardware/rig/shop.yaml")
	require.NoError(t, err)
	require.NoError(t, shop.Errors(problems))
	s.Collectors[0].Rating = rating
	e, err := New(s, s.Collectors[0])
	require.NoError(t, err)
	return e
}

func TestWalkProposesOnlyWhatTheDuctsBear(t *testing.T) {
	machines := len(walker(t, 4000).collector.Machines)
	missing, refused := walker(t, 4000).walk()
	assert.Len(t, missing, machines, "rated above the fan's shut-off: every gate may be open alone")
	assert.Zero(t, refused)

	e := walker(t, 2500)
	missing, refused = e.walk()
	assert.NotEmpty(t, missing)
	assert.Positive(t, refused, "alone, the small drops pull the trunk below 2.5 kPa")
	for _, name := range missing {
		assert.LessOrEqual(t, e.largestSuction(e.aloneSet(name)), 2500.0, "suction in Pa with %s alone", name)
	}

	missing, refused = walker(t, math.NaN()).walk()
	assert.Empty(t, missing, "no rating: nothing is proposed")
	assert.Equal(t, machines, refused)
	assert.Contains(t, walker(t, math.NaN()).Baseline().Lacks, "rating for negative pressure is not entered")
}

func TestWalkLeavesOutWhatTheShopHasRun(t *testing.T) {
	e := walker(t, 4000)
	set := e.aloneSet("band saw")
	r := steady.Run{Kind: steady.Running, Open: set.open}
	for _, s := range e.collector.Selectors {
		r.Ports = append(r.Ports, steady.Port{Selector: s.Name, Port: 2}) // where the hose hangs makes no difference
	}
	e.setOf(&r)
	missing, _ := e.walk()
	assert.NotContains(t, missing, "band saw")
	assert.Contains(t, missing, "mortiser")
}
