package compare_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/compare"
	"ductward/internal/duct"
	"ductward/internal/shop"
	"ductward/internal/verdict"
)

const rig = "../../hardware/rig/shop.yaml"

// load reads the first collector of a shop file.
func load(t *testing.T, path string) *shop.Collector {
	t.Helper()
	s, problems, err := shop.Load(path)
	require.NoError(t, err)
	require.NoError(t, shop.Errors(problems))
	return s.Collectors[0]
}

func of(t *testing.T, first, second *shop.Collector, open ...[]string) *compare.Answer {
	t.Helper()
	a, err := compare.Of(first, second, compare.Ask{Open: open})
	require.NoError(t, err)
	return a
}

// change finds what a set does for one machine.
func change(t *testing.T, s compare.Set, machine string) compare.Change {
	t.Helper()
	i := slices.IndexFunc(s.Changes, func(c compare.Change) bool { return c.Machine == machine })
	require.GreaterOrEqual(t, i, 0, "no %q among %v", machine, s.Machines)
	return s.Changes[i]
}

func machine(t *testing.T, a *compare.Answer, name string) compare.Machine {
	t.Helper()
	i := slices.IndexFunc(a.Machines, func(m compare.Machine) bool { return m.Name == name })
	require.GreaterOrEqual(t, i, 0, "no %q", name)
	return a.Machines[i]
}

// pipeForHose is the rig's shop with the mortiser's hose replaced by spiral pipe.
func pipeForHose(t *testing.T) *shop.Collector {
	t.Helper()
	c := load(t, rig)
	r := c.Run("mortiser hose")
	r.Flexible, r.Stretch, r.Material, r.Roughness = false, 1, "galvanised spiral", 0.09e-3
	return c
}

// TestTheSameDrawingTwice: nothing changes, in all sets: 9 machines alone, 36 pairs less the two on one hose, and all
// together but one of those.
func TestTheSameDrawingTwice(t *testing.T) {
	a := of(t, load(t, rig), load(t, rig))
	require.Len(t, a.Sets, 9+35+1)
	assert.True(t, a.AllPairs)
	assert.False(t, a.Worse())
	for _, s := range a.Sets {
		assert.False(t, s.Better())
		for _, c := range s.Changes {
			assert.InDelta(t, 0, c.Gain(), 1e-9, "m³/s at %s with %v", c.Machine, s.Machines)
		}
	}
	assert.Len(t, a.Sets[44].Machines, 8)
	assert.Empty(t, a.Renamed)
	assert.Empty(t, a.OnlyMachines[0])
	assert.Empty(t, a.OnlyMachines[1])
	for _, m := range a.Machines {
		require.NotNil(t, m.Alone, m.Name)
		assert.True(t, m.Alone.Open[0] && m.Alone.Open[1])
	}
}

// TestFlowsAreTheModels holds every flow against a solve from nothing.
func TestFlowsAreTheModels(t *testing.T) {
	c := [2]*shop.Collector{load(t, rig), pipeForHose(t)}
	a := of(t, c[0], c[1])
	for side := range c {
		m, err := duct.New(c[side])
		require.NoError(t, err)
		for _, s := range a.Sets {
			setting, err := verdict.Opening(c[side], s.Machines...)
			require.NoError(t, err)
			r, err := m.Solve(duct.State{Setting: setting})
			require.NoError(t, err)
			for _, f := range r.Machines {
				if f.Open {
					assert.InDelta(t, f.Flow, change(t, s, f.Name).Flow[side], 1e-8, "m³/s at %s with %v", f.Name, s.Machines)
				}
			}
			assert.InDelta(t, r.FanFlow, s.Sides[side].FanFlow, 1e-8, "m³/s")
		}
	}
}

// TestPipeForHose: flexible hose costs several times the same length of smooth pipe (common practice, no source), so its
// machine gains wherever it is open, and whoever is open with it loses: the fan has one curve.
func TestPipeForHose(t *testing.T) {
	a := of(t, load(t, rig), pipeForHose(t))
	for _, s := range a.Sets {
		for _, c := range s.Changes {
			switch {
			case c.Machine == "mortiser":
				assert.Greater(t, c.Share(), 0.02, "with %v", s.Machines)
			case slices.Contains(s.Machines, "mortiser"):
				assert.Negative(t, c.Gain(), "m³/s at %s with %v", c.Machine, s.Machines)
			default:
				assert.InDelta(t, 0, c.Share(), compare.Same, "the mortiser is shut")
			}
		}
	}
	m := machine(t, a, "mortiser")
	assert.Equal(t, 10, m.Sets, "alone, with each of 8 others, all together")
	assert.LessOrEqual(t, m.Least.Share(), m.Alone.Share())
	assert.GreaterOrEqual(t, m.Most.Share(), m.Alone.Share())
}

// TestTurnedRound: with the drawings the other way round every gain is a loss of the same size, and better is worse.
func TestTurnedRound(t *testing.T) {
	there, back := of(t, load(t, rig), pipeForHose(t)), of(t, pipeForHose(t), load(t, rig))
	require.Equal(t, len(there.Sets), len(back.Sets))
	for i := range there.Sets {
		for k, c := range there.Sets[i].Changes {
			assert.InDelta(t, c.Gain(), -back.Sets[i].Changes[k].Gain(), 1e-8, "m³/s")
		}
		assert.ElementsMatch(t, there.Sets[i].NowSlow, back.Sets[i].NowCarry)
	}
	for i, m := range there.Machines {
		assert.Equal(t, m.NowShort, back.Machines[i].NowFed)
		assert.Equal(t, m.Short[0], back.Machines[i].Short[1])
	}
}

// withoutStub is the rig's shop without its capped branch: the trunk runs on where the wye was.
func withoutStub(t *testing.T) *shop.Collector {
	t.Helper()
	c := load(t, rig)
	n := c.Network
	n.Stubs = nil
	n.Runs = slices.DeleteFunc(n.Runs, func(r *shop.Run) bool { return r.Name == "spare branch" })
	n.Junctions = slices.DeleteFunc(n.Junctions, func(j *shop.Junction) bool { return j.Name == "spare wye" })
	c.Run("trunk 9").To = shop.End{Kind: shop.EndRun, Name: "trunk 10"}
	c.Run("trunk 10").From = shop.End{}
	return c
}

// tight is the rig's shop with nothing leaking past the capped branch's seams, and its branch.
func tight(t *testing.T) (*shop.Collector, *shop.Run) {
	t.Helper()
	c := load(t, rig)
	r := c.Run("spare branch")
	r.Tightness = shop.Leakage{Class: "none", N: 0.65}
	return c, r
}

// TestACappedBranchCostsNothing (common practice, no source): the wye of a branch that is capped and tight takes no air
// from anybody, and a machine that is put there takes none while its gate is shut and tight.
func TestACappedBranchCostsNothing(t *testing.T) {
	capped, _ := tight(t)
	a := of(t, withoutStub(t), capped)
	for _, s := range a.Sets {
		for _, c := range s.Changes {
			assert.InDelta(t, 0, c.Share(), compare.Same, "%s with %v", c.Machine, s.Machines)
		}
	}
	for _, s := range a.Sets {
		assert.False(t, s.Worse(), "%v: %v", s.Machines, s)
	}

	lathe, branch := tight(t)
	branch.From = shop.End{Kind: shop.EndMachine, Name: "lathe"}
	branch.Gate = "lathe gate"
	lathe.Network.Stubs = nil
	lathe.Machines = append(lathe.Machines, &shop.Machine{Name: "lathe", Needs: 0.2})
	lathe.Gates = append(lathe.Gates, &shop.Gate{Name: "lathe gate", Open: 0.05})
	a = of(t, capped, lathe)
	assert.Equal(t, [2][]string{nil, {"lathe"}}, a.OnlyMachines)
	assert.Equal(t, [2][]string{nil, {"lathe gate"}}, a.OnlyGates)
	alone := 0
	for _, s := range a.Sets {
		if s.Sides[0] == nil {
			alone++
			assert.Equal(t, []string{"lathe"}, s.Machines)
			assert.Greater(t, change(t, s, "lathe").Flow[1], 0.2, "m³/s")
			continue
		}
		for _, c := range s.Changes {
			assert.InDelta(t, 0, c.Share(), compare.Same, "%s with %v", c.Machine, s.Machines)
		}
	}
	assert.Equal(t, 1, alone, "the lathe is solved once, alone")
	assert.False(t, a.Worse())

	// Opened on top of the planer it does take air from it, and a set that is asked for says so.
	a = of(t, capped, lathe, []string{"surface planer", "lathe"})
	require.Len(t, a.Sets, 1)
	assert.Equal(t, []string{"lathe"}, a.Sets[0].Missing[0])
	assert.Empty(t, a.Sets[0].Missing[1])
	assert.Less(t, change(t, a.Sets[0], "surface planer").Share(), -0.05)
	assert.True(t, math.IsNaN(change(t, a.Sets[0], "lathe").Share()), "it is in one drawing only")
}

// TestRenamesAreFollowed over machines, gates, runs, the hose and its ports.
func TestRenamesAreFollowed(t *testing.T) {
	first, second := load(t, rig), load(t, rig)
	second.Machine("tenoner").Was, second.Machine("tenoner").Name = []string{"tenoner"}, "single-end tenoner"
	second.Selector("moulder hose").Ports[1] = "single-end tenoner"
	second.Selector("moulder hose").Was = []string{"moulder hose"}
	second.Run("moulder hose line").From.Name = "corner hose"
	second.Selector("moulder hose").Name = "corner hose"
	second.Gate("sander gate").Was, second.Gate("sander gate").Name = []string{"sander gate"}, "gate by the door"
	second.Run("sander drop").Gate = "gate by the door"
	second.Run("moulder drop").Was, second.Run("moulder drop").Name = []string{"moulder drop"}, "corner drop"
	second.Run("moulder hose line").To.Name = "corner drop"
	for _, j := range second.Network.Junctions {
		if j.Branch == "moulder drop" {
			j.Branch = "corner drop"
		}
	}
	a := of(t, first, second)
	assert.Equal(t, [][2]string{{"tenoner", "single-end tenoner"}, {"sander gate", "gate by the door"}, {"moulder hose", "corner hose"}}, a.Renamed)
	assert.Empty(t, a.OnlyMachines[1])
	assert.Len(t, a.Sets, 45)
	assert.False(t, a.Worse())
	assert.Equal(t, "tenoner", machine(t, a, "single-end tenoner").Was)
	for _, s := range a.Sets {
		assert.Empty(t, s.NowSlow, "%v", s.Machines)
		assert.Empty(t, s.NowCarry, "%v", s.Machines)
		for _, c := range s.Changes {
			assert.InDelta(t, 0, c.Gain(), 1e-9, "m³/s at %s", c.Machine)
		}
	}
	for _, names := range [][]string{
		{"tenoner", "edge sander"}, {"single-end tenoner", "gate by the door"}, {"moulder hose=tenoner", "moulder gate", "sander gate"},
		{"corner hose=single-end tenoner", "moulder gate", "sander gate"},
	} {
		a := of(t, first, second, names)
		require.Len(t, a.Sets, 1)
		assert.Equal(t, []string{"single-end tenoner", "edge sander"}, a.Sets[0].Machines, "%v", names)
		assert.Empty(t, a.Sets[0].Missing[0])
		assert.Empty(t, a.Sets[0].Missing[1])
		assert.True(t, a.Sets[0].Changes[0].Open[0] && a.Sets[0].Changes[0].Open[1], "%v", names)
	}
	turned := of(t, second, first)
	assert.Len(t, turned.Renamed, 3, "an old name is known from either side")
}

// TestWhoIsShortAndWhereDustSettles: a narrow drop starves its machine, a wide trunk lets dust settle.
func TestWhoIsShortAndWhereDustSettles(t *testing.T) {
	narrow := load(t, rig)
	narrow.Run("planer drop").Diameter, narrow.Run("planer hose").Diameter = 0.1, 0.1
	a := of(t, load(t, rig), narrow)
	assert.True(t, a.Worse())
	m := machine(t, a, "surface planer")
	assert.Positive(t, m.NowShort)
	assert.True(t, m.Alone.NowShort())
	assert.Zero(t, m.NowFed)
	assert.Equal(t, m.Short[1]-m.Short[0], m.NowShort)

	wide := load(t, rig)
	wide.Transport = 12
	first := load(t, rig)
	first.Transport = 12
	wide.Run("trunk 10").Diameter = 0.3
	a = of(t, first, wide, []string{"thicknesser"})
	assert.Equal(t, []string{"trunk 10"}, a.Sets[0].NowSlow)
	assert.True(t, a.Worse())
	a = of(t, wide, first, []string{"thicknesser"})
	assert.Equal(t, []string{"trunk 10"}, a.Sets[0].NowCarry)
	assert.False(t, a.Worse())
	assert.True(t, a.Sets[0].Better())
}

// TestSuctionAboveTheRating is worse where it was within it.
func TestSuctionAboveTheRating(t *testing.T) {
	light := load(t, rig)
	light.Rating = 1500
	a := of(t, load(t, rig), light, []string{"mortiser"})
	assert.True(t, a.Sets[0].NowOver())
	assert.True(t, a.Worse())
	assert.False(t, of(t, light, light, []string{"mortiser"}).Worse(), "it was so before")
}

// TestManyMachinesAreBounded: of the 1225 pairs of 50 machines, not all are compared, and that is told.
func TestManyMachinesAreBounded(t *testing.T) {
	c := load(t, "../../testdata/shops/trunk-three-drops.yaml")
	for i := range 47 {
		name := fmt.Sprintf("extra %d", i)
		c.Machines = append(c.Machines, &shop.Machine{Name: name, Needs: math.NaN()})
		c.Gates = append(c.Gates, &shop.Gate{Name: name, Open: 0.05})
		c.Network.Runs = append(c.Network.Runs, &shop.Run{Name: name, From: shop.End{Kind: shop.EndMachine, Name: name},
			To: shop.End{Kind: shop.EndJunction, Name: "j1"}, Diameter: 0.1, Length: 3, Roughness: 9e-5, Stretch: 1, Rating: math.NaN(),
			Gate: name, Fittings: []shop.Fitting{{Kind: shop.FixedLoss, Coefficient: 1}}, Tightness: shop.Leakage{Class: "none", N: 0.65}})
	}
	a := of(t, c, c)
	assert.False(t, a.AllPairs)
	assert.LessOrEqual(t, len(a.Sets), 501)
	assert.Len(t, a.Sets[len(a.Sets)-1].Machines, 50, "all together is still among them")
}

func TestWrongNames(t *testing.T) {
	_, err := compare.Of(load(t, rig), load(t, rig), compare.Ask{Open: [][]string{{"bandsaw"}}})
	assert.ErrorContains(t, err, `no gate or machine "bandsaw"`)
	_, err = compare.Of(load(t, rig), load(t, rig), compare.Ask{Open: [][]string{{"tenoner", "spindle moulder"}}})
	assert.ErrorContains(t, err, "cannot stand at")
	_, err = compare.Of(load(t, rig), &shop.Collector{Name: "main"}, compare.Ask{})
	assert.ErrorContains(t, err, "second drawing: the duct model needs a drawing")
}

func TestAssign(t *testing.T) {
	two, problems, err := shop.Load("../../testdata/shops/two-collectors.yaml")
	require.NoError(t, err)
	require.NoError(t, shop.Errors(problems))
	mill := two.Collectors[0]
	other := load(t, rig)
	pairs := [][2]*shop.Collector{{mill, mill}, {other, other}}
	got, err := compare.Assign(pairs, []string{mill.Machines[0].Name, " tenoner", "main/mortiser", ""})
	require.NoError(t, err)
	assert.Equal(t, [][]string{{mill.Machines[0].Name}, {"tenoner", "mortiser"}}, got)

	var wrong *compare.NameError
	_, err = compare.Assign(pairs, []string{"saw mill"})
	require.ErrorAs(t, err, &wrong)
	twice := [][2]*shop.Collector{{other, other}, {other, other}}
	_, err = compare.Assign(twice, []string{"tenoner"})
	require.ErrorAs(t, err, &wrong)
	assert.ErrorContains(t, err, `collectors main, main all have one; write "main/tenoner"`)
}

func TestCollectorsArePairedByName(t *testing.T) {
	first, _, err := shop.Load("../../testdata/shops/two-collectors.yaml")
	require.NoError(t, err)
	second, _, err := shop.Load("../../testdata/shops/two-collectors.yaml")
	require.NoError(t, err)
	name := first.Collectors[0].Name
	pairs, only := compare.Collectors(first, second)
	require.Len(t, pairs, 1, "the other collector has no drawing")
	assert.Equal(t, [2][]string{}, only)

	second.Collectors[0].Name = "hall"
	_, only = compare.Collectors(first, second)
	assert.Equal(t, [2][]string{{name}, {"hall"}}, only)

	second.Collectors[0].Was = []string{name}
	pairs, _ = compare.Collectors(first, second)
	require.Len(t, pairs, 1)
	a := of(t, pairs[0][0], pairs[0][1])
	assert.Equal(t, name, a.Was)
	assert.Equal(t, "hall", a.Collector)
}
