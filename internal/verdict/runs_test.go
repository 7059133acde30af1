package verdict_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/verdict"
)

// runs judges every run, by its name.
func runs(t *testing.T, path string, machines ...string) (map[string]verdict.Run, verdict.Verdict) {
	t.Helper()
	c := load(t, path)
	r := solve(t, c, machines...)
	list := verdict.For(c).Runs(r)
	require.Len(t, list, len(r.Runs))
	out := map[string]verdict.Run{}
	for i, run := range list {
		out[r.Runs[i].Name] = run
	}
	return out, verdict.Of(c, r)
}

// TestRunsOfATrunkForThreeDrops: with the saw alone, the network that two independent programs solved (scipy with the
// library fluids, and the EPANET engine) has 12.1 m/s in its 200 mm trunk, where TRGS 553 asks for 20 m/s.
func TestRunsOfATrunkForThreeDrops(t *testing.T) {
	one, v := runs(t, shops+"trunk-three-drops.yaml", "saw")
	for name, want := range map[string][2]bool{
		"saw_hose": {true, false}, "saw_drop": {true, false}, "band_hose": {}, "band_drop": {}, "planer_drop": {},
		"trunk1": {true, true}, "trunk2": {true, true},
	} {
		assert.Equal(t, want, [2]bool{one[name].Used, one[name].Slow}, "used and slow: %s", name)
	}
	assert.Equal(t, []string{"trunk1", "trunk2"}, slowNames(v), "the whole verdict names the same runs")
	three, _ := runs(t, shops+"trunk-three-drops.yaml", "saw", "band", "planer")
	assert.True(t, three["band_drop"].Used)
	assert.False(t, three["trunk2"].Slow)
}

// TestRunsBear holds each run's suction against its own rating, and against the collector's where it has none. With every
// gate shut the fan's shut-off pressure of 2600 Pa stands in the ducts up to the gates, and none of it in the hoses.
func TestRunsBear(t *testing.T) {
	c := load(t, shops+"trunk-three-drops.yaml")
	r := solve(t, c)
	for _, run := range verdict.For(c).Runs(r) {
		assert.True(t, run.Bears(), "no rating is known")
	}
	c.Rating = 2000
	c.Run("trunk2").Rating = 3000
	for i, run := range verdict.For(c).Runs(r) {
		switch name := r.Runs[i].Name; {
		case strings.HasSuffix(name, "_hose"):
			assert.InDelta(t, 0, run.Suction, 1, "Pa, %s", name)
			assert.True(t, run.Bears(), name)
		default:
			assert.InDelta(t, 2600, run.Suction, 1, "Pa, %s", name)
			assert.Equal(t, name == "trunk2", run.Bears(), name)
		}
	}
}
