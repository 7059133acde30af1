package verdict_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/duct"
	"ductward/internal/shop"
	"ductward/internal/verdict"
)

const shops = "../../testdata/shops/"

// load reads the first collector of a shop file.
func load(t *testing.T, path string) *shop.Collector {
	t.Helper()
	s, problems, err := shop.Load(path)
	require.NoError(t, err)
	require.NoError(t, shop.Errors(problems))
	return s.Collectors[0]
}

// solve opens machines and solves.
func solve(t *testing.T, c *shop.Collector, machines ...string) *duct.Result {
	t.Helper()
	m, err := duct.New(c)
	require.NoError(t, err)
	setting, err := verdict.Opening(c, machines...)
	require.NoError(t, err)
	r, err := m.Solve(duct.State{Setting: setting})
	require.NoError(t, err)
	return r
}

func slowNames(v verdict.Verdict) []string {
	var names []string
	for _, s := range v.Slow {
		names = append(names, s.Run)
	}
	return names
}

// velocity is the flow through a run's circle, computed without the model's own figure.
func velocity(t *testing.T, c *shop.Collector, r *duct.Result, run string) float64 {
	t.Helper()
	i := slices.IndexFunc(r.Runs, func(f duct.RunFlow) bool { return f.Name == run })
	require.GreaterOrEqual(t, i, 0, "no run %q", run)
	return math.Abs(r.Runs[i].Flow) / (math.Pi / 4 * c.Run(run).Diameter * c.Run(run).Diameter)
}

// TestLeastVelocity holds the usual limit against the printed one: 20 m/s in extraction ducts of stationary chip-making
// woodworking machines (TRGS 553; DGUV Information 209-044 gives 20 m/s as typical at a machine's connection).
func TestLeastVelocity(t *testing.T) {
	c := load(t, shops+"ring-main.yaml")
	assert.InDelta(t, 20, verdict.Transport(c), 1e-12, "m/s")
	c.Transport = 15
	assert.InDelta(t, 15, verdict.Transport(c), 1e-12, "m/s")
}

// TestShort moves a need to either side of the flow that the machine gets.
func TestShort(t *testing.T) {
	c := load(t, shops+"trunk-three-drops.yaml")
	r := solve(t, c, "saw", "planer")
	assert.Empty(t, verdict.Of(c, r).Short, "no machine states a need")
	saw := r.Machines[0].Flow
	rows := []struct {
		name  string
		needs float64
		short bool
	}{
		{"a little less than it gets", saw * (1 - 1e-6), false},
		{"a little more than it gets", saw * (1 + 1e-6), true},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			c.Machine("saw").Needs, c.Machine("band").Needs = row.needs, 1000 // the band saw is shut
			v := verdict.Of(c, solve(t, c, "saw", "planer"))
			if !row.short {
				assert.Empty(t, v.Short)
				return
			}
			require.Len(t, v.Short, 1)
			assert.Equal(t, "saw", v.Short[0].Machine)
			assert.InDelta(t, saw, v.Short[0].Flow, 1e-9, "m³/s")
			assert.InDelta(t, row.needs, v.Short[0].Needs, 1e-12, "m³/s")
			assert.False(t, v.Fine())
		})
	}
}

// TestSlowRunsAreThoseOfOpenMachines recomputes each velocity from flow and diameter, and knows the way by heart.
func TestSlowRunsAreThoseOfOpenMachines(t *testing.T) {
	c := load(t, shops+"trunk-three-drops.yaml")
	way := map[string][]string{
		"saw": {"saw_hose", "saw_drop", "trunk1", "trunk2"}, "band": {"band_hose", "band_drop", "trunk1", "trunk2"},
		"planer": {"planer_hose", "planer_drop", "trunk2"},
	}
	for machine, runs := range way {
		r := solve(t, c, machine)
		for _, least := range []float64{5, 15, 20, 40} {
			c.Transport = least
			var want []string
			for _, run := range runs {
				if velocity(t, c, r, run) < least {
					want = append(want, run)
				}
			}
			assert.ElementsMatch(t, want, slowNames(verdict.Of(c, r)), "%s alone, %g m/s", machine, least)
		}
	}
}

// TestDustGoesBothWaysRoundARing: the saw's air parts at the ring, and both ways carry its chips.
func TestDustGoesBothWaysRoundARing(t *testing.T) {
	c := load(t, shops+"ring-main.yaml")
	c.Transport = 1000 // every used run is slow
	all := verdict.Of(c, solve(t, c, "panel saw"))
	assert.ElementsMatch(t, []string{"panel saw line", "far east", "far west", "near east", "near west", "riser"}, slowNames(all))
	for _, s := range all.Slow {
		assert.Positive(t, s.Velocity, "%s: a size, whichever way the air goes", s.Run)
	}

	c.Run("far west").Gate = "ring gate"
	c.Gates = append(c.Gates, &shop.Gate{Name: "ring gate", Open: 0.05, SeatLeak: 0.002})
	parted := verdict.Of(c, solve(t, c, "panel saw"))
	assert.NotContains(t, slowNames(parted), "far west", "a shut gate stands in it, and what leaks past is no transport")
	assert.NotContains(t, slowNames(parted), "near west")
	assert.Subset(t, slowNames(parted), []string{"panel saw line", "near east", "riser"})
}

// TestNoDustGoesIntoADeadEnd: in a tight capped branch the air stands, whatever the last digits of its flow say.
func TestNoDustGoesIntoADeadEnd(t *testing.T) {
	c := load(t, "../../hardware/rig/shop.yaml")
	c.Run("spare branch").Tightness = shop.Leakage{Class: "none", N: 0.65}
	c.Transport = 1000
	for _, m := range c.Machines {
		assert.NotContains(t, slowNames(verdict.Of(c, solve(t, c, m.Name))), "spare branch", "with %s open", m.Name)
	}
}

// TestSelectorsAreFollowed: only the port that is joined carries, and a moved hose is its machine's.
func TestSelectorsAreFollowed(t *testing.T) {
	c := load(t, shops+"ring-main.yaml")
	c.Transport = 1000
	names := slowNames(verdict.Of(c, solve(t, c, "lathe")))
	assert.Subset(t, names, []string{"lathe line", "corner line", "riser"})
	assert.NotContains(t, names, "sweep line")

	rig := load(t, "../../hardware/rig/shop.yaml")
	rig.Transport = 1000
	for _, machine := range []string{"tenoner", "spindle moulder"} {
		names := slowNames(verdict.Of(rig, solve(t, rig, machine)))
		assert.Equal(t, []string{"moulder hose line", "moulder drop", "trunk 4", "trunk 5", "trunk 6", "trunk 7", "trunk 8", "trunk 9", "trunk 10"}, names)
	}
}

// TestNothingOpenIsFineButForTheSuction: with all gates shut there is no dust to carry, and the suction is the largest.
func TestNothingOpenIsFineButForTheSuction(t *testing.T) {
	c := load(t, "../../hardware/rig/shop.yaml")
	shut := verdict.Of(c, solve(t, c))
	assert.Empty(t, shut.Short)
	assert.Empty(t, shut.Slow)
	assert.InDelta(t, 4000, shut.Rating, 1e-9, "Pa, as in the shop file")
	open := verdict.Of(c, solve(t, c, "thicknesser", "surface planer"))
	assert.Greater(t, shut.Suction, open.Suction, "Pa")

	c.Rating = shut.Suction - 1
	assert.False(t, verdict.Of(c, solve(t, c)).Fine(), "1 Pa above the rating")
	c.Rating = shut.Suction + 1
	assert.True(t, verdict.Of(c, solve(t, c)).Fine(), "1 Pa below the rating")
	c.Rating = math.NaN()
	unknown := verdict.Of(c, solve(t, c))
	assert.True(t, unknown.Fine())
	assert.True(t, math.IsNaN(unknown.Rating))
	assert.InDelta(t, shut.Suction, unknown.Suction, 1e-6, "Pa")
}

// TestARunsOwnRatingGoesFirst: a light hose far out bears less than the trunk.
func TestARunsOwnRatingGoesFirst(t *testing.T) {
	c := load(t, "../../hardware/rig/shop.yaml")
	c.Run("thicknesser hose").Rating = 500
	v := verdict.Of(c, solve(t, c, "thicknesser"))
	assert.InDelta(t, 500, v.Rating, 1e-9, "Pa")
	assert.Greater(t, v.Suction, 500.0, "Pa: its hood alone costs more")
	assert.False(t, v.Fine())

	c.Rating = math.NaN()
	assert.InDelta(t, 500, verdict.Of(c, solve(t, c, "thicknesser")).Rating, 1e-9, "Pa: a known rating goes before an unknown one")
}

func TestOpening(t *testing.T) {
	c := load(t, "../../hardware/rig/shop.yaml")
	st, err := verdict.Opening(c, "tenoner", "mortiser")
	require.NoError(t, err)
	assert.Equal(t, map[string]bool{"moulder gate": true, "mortiser gate": true}, st.Open)
	assert.Equal(t, map[string]int{"moulder hose": 2}, st.Port)

	_, err = verdict.Opening(c, "tenoner", "spindle moulder")
	assert.ErrorContains(t, err, `selector "moulder hose" cannot stand at "tenoner" and at "spindle moulder" at once`)
	_, err = verdict.Opening(c, "mortiser gate")
	assert.ErrorContains(t, err, `no machine "mortiser gate"; it has thicknesser, surface planer`)
}
