package balance

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/duct"
	"ductward/internal/shop"
	"ductward/internal/verdict"
)

const (
	rig  = "../../hardware/rig/shop.yaml"
	ring = "../../testdata/shops/ring-main.yaml"
)

// easy loads the rig's shop and makes it one in which air and dust are no trouble, so that only what moves decides.
func easy(t *testing.T) *shop.Collector {
	t.Helper()
	c := load(t, rig)
	c.Transport, c.Rating = 0.001, math.NaN()
	for _, m := range c.Machines {
		m.Needs = 0.001
	}
	return c
}

func of(t *testing.T, c *shop.Collector) *Answer {
	t.Helper()
	a, err := Of(c, Ask{})
	require.NoError(t, err)
	return a
}

func machine(t *testing.T, a *Answer, name string) Machine {
	t.Helper()
	i := slices.IndexFunc(a.Machines, func(m Machine) bool { return m.Name == name })
	require.GreaterOrEqual(t, i, 0, "no machine %q in the answer", name)
	return a.Machines[i]
}

// TestOneHoseServesOneMachine: everything fits together but the two machines of one hose.
func TestOneHoseServesOneMachine(t *testing.T) {
	a := of(t, easy(t))
	others := "thicknesser surface planer band saw mortiser crosscut saw bench saw edge sander"
	require.Len(t, a.Together, 2)
	for i, hosed := range []string{"spindle moulder", "tenoner"} {
		assert.Contains(t, a.Together[i].Machines, hosed)
		assert.Len(t, a.Together[i].Machines, 8)
		rest := slices.DeleteFunc(slices.Clone(a.Together[i].Machines), func(m string) bool { return m == hosed })
		assert.Equal(t, others, strings.Join(rest, " "))
	}
	// Each of 7 machines open or shut, and the hose at neither, one or the other; nothing open is no set.
	assert.Equal(t, 128*3-1, a.Safe)
	assert.True(t, a.All)
	assert.False(t, a.Pruned)
	assert.True(t, a.Served())
}

// TestGatesThatAreSharedAlwaysOpenOrAlwaysShut: what must move together counts once, and what cannot move is told.
func TestGatesThatAreSharedAlwaysOpenOrAlwaysShut(t *testing.T) {
	c := easy(t)
	c.Gate("sander gate").Position = &shop.Source{Kind: shop.SourceFixed, Fixed: true}
	c.Gate("mortiser gate").Position = &shop.Source{Kind: shop.SourceFixed, Fixed: false}
	c.Run("crosscut drop").Gate, c.Run("bench saw drop").Gate = "", ""
	c.Run("trunk 7").Gate = "crosscut gate" // now it shuts off everything further out, the crosscut saw among it
	a := of(t, c)
	for _, s := range a.Together {
		assert.Contains(t, s.Machines, "edge sander", "its gate is always open")
		assert.Contains(t, s.Machines, "bench saw", "it has no gate")
		assert.NotContains(t, s.Machines, "mortiser", "its gate is always shut")
	}
	m := machine(t, a, "mortiser")
	assert.Equal(t, Never, m.Served)
	assert.Contains(t, m.Why, `gate "mortiser gate" is always shut`)
	assert.False(t, a.Served())
	assert.Equal(t, []string{"crosscut saw", "bench saw", "edge sander"}, names(machine(t, a, "crosscut saw").Alone[0]))
	assert.Equal(t, []string{"thicknesser", "crosscut saw", "bench saw", "edge sander"}, names(machine(t, a, "thicknesser").Alone[0]),
		"its way opens the crosscut saw's too")
	// Of the hose, thicknesser, planer and band saw each opens the crosscut saw; the base is a set of its own.
	assert.Equal(t, 1+1+(8*3-1), a.Safe)
	assert.Equal(t, Never, machine(t, a, "mortiser").Served)
}

func names(f Fare) []string {
	var out []string
	for _, m := range f.Open {
		out = append(out, m.Name)
	}
	return out
}

// TestTwoHoodsOnOneGate: hoods that only open together are one way.
func TestTwoHoodsOnOneGate(t *testing.T) {
	c := easy(t)
	c.Run("thicknesser drop").Gate, c.Run("planer drop").Gate = "", ""
	c.Run("trunk 2").Gate = "planer gate"
	a := of(t, c)
	for _, s := range a.Together {
		assert.Equal(t, slices.Contains(s.Machines, "thicknesser"), slices.Contains(s.Machines, "surface planer"))
	}
	assert.Equal(t, 64*3-1, a.Safe)
	assert.Equal(t, Alone, machine(t, a, "thicknesser").Served)
}

// TestSelectorPortsAreNeverBothOpen on a ring main with a switch-over piece.
func TestSelectorPortsAreNeverBothOpen(t *testing.T) {
	c := load(t, ring)
	c.Transport = 0.001
	for _, m := range c.Machines {
		m.Needs = math.NaN()
	}
	a := of(t, c)
	assert.ElementsMatch(t, []string{"panel saw edge bander lathe", "panel saw edge bander floor sweep"}, joined(a.Together))
	for _, s := range a.Together {
		assert.Empty(t, s.At[0].Tightest, "no machine states a need")
		assert.True(t, math.IsNaN(s.At[0].Slack))
	}
}

// TestNothingAboveTheRatingIsProposed: each set that is told, and each that is named to sweep a run, stays within it.
func TestNothingAboveTheRatingIsProposed(t *testing.T) {
	c := load(t, rig)
	c.Rating = 2250
	a := of(t, c)
	told := slices.Concat(a.Together, a.FirstOnly, a.AirOnly)
	require.NotEmpty(t, told)
	for _, s := range told {
		assert.LessOrEqual(t, s.At[0].Suction, 2250.0, "Pa with %v open", s.Machines)
	}
	m, err := duct.New(c)
	require.NoError(t, err)
	swept := 0
	for _, r := range a.Runs {
		if r.Sweep == nil {
			continue // nothing carries there within the rating
		}
		swept++
		setting, err := verdict.Opening(c, r.Sweep...)
		require.NoError(t, err)
		var solved *duct.Result
		for _, ratio := range a.Filter {
			solved, err = m.Solve(duct.State{Setting: setting, FilterRatio: ratio})
			require.NoError(t, err)
			assert.True(t, verdict.Of(c, solved).Bears(), "%v, filter %.2f", r.Sweep, ratio)
		}
		i := slices.IndexFunc(solved.Runs, func(f duct.RunFlow) bool { return f.Name == r.Name })
		assert.GreaterOrEqual(t, solved.Runs[i].Velocity, 15.0, "m/s in %s, as the shop file asks", r.Name)
		assert.InDelta(t, solved.Runs[i].Velocity, r.Velocity, 1e-6, "m/s")
	}
	assert.Positive(t, swept, "of %d", len(a.Runs))
	assert.Contains(t, machine(t, a, "mortiser").Why, "the suction is")
}

// TestWhyAMachineLacksAirEvenAlone: by a need that nothing can give.
func TestWhyAMachineLacksAirEvenAlone(t *testing.T) {
	c := easy(t)
	c.Machine("mortiser").Needs = 1 // m³/s in a duct of 100 mm
	m := machine(t, of(t, c), "mortiser")
	assert.Equal(t, Never, m.Served)
	assert.Regexp(t, `^mortiser gets \d+ m³/h of the 3600 m³/h that it needs; of the fan's \d+ Pa it loses .*\d+ Pa to nozzle at the chain \(mortiser hose\)`, m.Why)
	assert.Zero(t, m.Sets)
}

// TestAMachineThatOnlyACleanFilterServes: its need lies between what it gets alone with the clean and the full filter.
func TestAMachineThatOnlyACleanFilterServes(t *testing.T) {
	c := easy(t)
	m, err := duct.New(c)
	require.NoError(t, err)
	setting, err := verdict.Opening(c, "tenoner")
	require.NoError(t, err)
	clean, err := m.Solve(duct.State{Setting: setting})
	require.NoError(t, err)
	full, err := m.Solve(duct.State{Setting: setting, FilterRatio: verdict.FilterAtLimit(c.Filter)})
	require.NoError(t, err)
	i := slices.IndexFunc(c.Machines, func(m *shop.Machine) bool { return m.Name == "tenoner" })
	c.Machines[i].Needs = (clean.Machines[i].Flow + full.Machines[i].Flow) / 2
	a := of(t, c)
	got := machine(t, a, "tenoner")
	assert.Equal(t, FirstOnly, got.Served)
	assert.Contains(t, got.Why, "with the filter at its limit, tenoner gets")
	assert.NotContains(t, strings.Join(joined(a.Together), " "), "tenoner")
	assert.Contains(t, strings.Join(joined(a.FirstOnly), " "), "tenoner")
	for _, s := range a.FirstOnly {
		assert.True(t, s.At[0].Fine)
		assert.False(t, s.At[1].Fine)
		assert.NotEmpty(t, s.At[1].Wrong)
	}
}

// TestDustIsCuredByOpeningMore: a wide trunk carries with two machines at its far end and not with one.
func TestDustIsCuredByOpeningMore(t *testing.T) {
	c := load(t, "../../testdata/shops/trunk-three-drops.yaml")
	for _, m := range c.Machines {
		m.Needs = 0.01
	}
	c.Filter.Limit = 1.2 * c.Filter.CleanDrop
	alone := of(t, c)
	c.Transport = 1.02 * machine(t, alone, "saw").Alone[0].Velocity
	a := of(t, c)
	m := machine(t, a, "saw")
	require.Equal(t, WithOther, m.Served, m.Why)
	assert.Contains(t, m.Why, "dust may settle in trunk")
	assert.Equal(t, [][]string{{"band"}}, m.With, "the planer joins further down and leaves trunk1 as slow as it is")
}

// TestABoundedSearchTellsOnlyWhatItSolved: with a budget far too small for all sets of 30 machines, it stops, says how far
// it came, and what it tells is fine all the same.
func TestABoundedSearchTellsOnlyWhatItSolved(t *testing.T) {
	const seed = 8
	c := invented(rand.New(rand.NewPCG(seed, 0)), 30, false)
	for _, m := range c.Machines {
		m.Needs = 0.001
	}
	c.Transport, c.Rating = 0.001, math.NaN()
	b := boardOf(t, c, []float64{1, 2}, true, 600)
	for _, s := range b.searches {
		assert.LessOrEqual(t, len(s.order), 600)
		assert.False(t, s.done)
		assert.Equal(t, 1, s.whole, "30 single machines, but not all of the 435 pairs")
	}
	a, err := b.answer()
	require.NoError(t, err)
	assert.False(t, a.All)
	require.NotEmpty(t, a.Together)
	assert.GreaterOrEqual(t, len(a.Together[0].Machines), 5, "it climbs beyond the sets of two")
	for _, s := range a.Together {
		for _, f := range s.At {
			assert.True(t, f.Fine)
		}
	}
}

func TestWithoutADrawing(t *testing.T) {
	_, err := Of(&shop.Collector{Name: "main"}, Ask{})
	assert.ErrorContains(t, err, "needs a drawing of the ducts")
}
