package balance

import (
	"fmt"
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

const shops = 40

// brute finds the fine sets of a shop by their names, and those that are fed, with a solve of its own for every subset
// of machines and a judgement of its own: the runs of a tree that carry are those on the ways of the open machines.
func brute(t *testing.T, c *shop.Collector, ratio float64) (fine, fed map[string]bool) {
	t.Helper()
	m, err := duct.New(c)
	require.NoError(t, err)
	fine, fed = map[string]bool{}, map[string]bool{}
	for bits := 1; bits < 1<<len(c.Machines); bits++ {
		var names []string
		var path []string
		for i, machine := range c.Machines {
			if bits>>i&1 == 0 {
				continue
			}
			names = append(names, machine.Name)
			for _, r := range c.PathOf(machine.Name) {
				path = append(path, r.Name)
			}
		}
		setting, err := verdict.Opening(c, names...)
		require.NoError(t, err)
		r, err := m.Solve(duct.State{Setting: setting, FilterRatio: ratio})
		require.NoError(t, err)
		good, carried := -r.InletStatic <= c.Rating, true
		for i, f := range r.Machines {
			good = good && (bits>>i&1 == 0 || math.IsNaN(f.Needs) || f.Flow >= f.Needs)
		}
		for _, f := range r.Runs {
			good = good && -f.StaticStart <= c.Rating && -f.StaticEnd <= c.Rating
			carried = carried && (!slices.Contains(path, f.Name) || f.Velocity >= c.Transport)
		}
		key := strings.Join(names, " ")
		fed[key] = good
		fine[key] = good && carried
	}
	return fine, fed
}

func passed(all map[string]bool) []string {
	var out []string
	for k, yes := range all {
		if yes {
			out = append(out, k)
		}
	}
	slices.Sort(out)
	return out
}

func keys(b *board, sets []set) []string {
	var out []string
	for _, s := range sets {
		out = append(out, strings.Join(b.names(s), " "))
	}
	slices.Sort(out)
	return out
}

// TestBothSearchesFindWhatSolvingEverySetFinds on random shops of 3 to 7 machines, with and without wyes.
func TestBothSearchesFindWhatSolvingEverySetFinds(t *testing.T) {
	const seed = 5
	rnd := rand.New(rand.NewPCG(seed, 0))
	told := 0
	for k := range shops {
		c := invented(rnd, 3+k%5, k%2 == 1)
		name := fmt.Sprintf("seed %d, shop %d", seed, k)
		for _, ratio := range []float64{1, verdict.FilterAtLimit(c.Filter)} {
			fine, fed := brute(t, c, ratio)
			told += len(passed(fine))
			for _, prune := range []bool{false, true} {
				b := boardOf(t, c, []float64{ratio}, prune, 1<<20)
				assert.Equal(t, passed(fine), keys(b, b.pick(b.searches[0], isFine)), "%s, filter %.2f, pruned %v: fine sets", name, ratio, prune)
				assert.Equal(t, passed(fed), keys(b, b.pick(b.searches[0], isFed)), "%s, filter %.2f, pruned %v: sets with air", name, ratio, prune)
				assert.True(t, b.searches[0].done)
			}
		}
	}
	assert.Greater(t, told, 100, "the random shops must have fine sets for this to say something")
}

// TestSmallestAndLargestSets holds Of's answer against the definitions, by comparing every set with every other.
func TestSmallestAndLargestSets(t *testing.T) {
	const seed = 6
	rnd := rand.New(rand.NewPCG(seed, 0))
	with := 0
	for k := range shops {
		c := invented(rnd, 4+k%3, false)
		name := fmt.Sprintf("seed %d, shop %d", seed, k)
		a, err := Of(c, Ask{})
		require.NoError(t, err)
		require.Len(t, a.Filter, 2)
		clean, cleanAir := brute(t, c, a.Filter[0])
		limit, limitAir := brute(t, c, a.Filter[1])
		safe, air := both(clean, limit), both(cleanAir, limitAir)
		var largest []string
		for _, s := range passed(safe) {
			if !slices.ContainsFunc(passed(safe), func(o string) bool { return o != s && part(s, o) }) {
				largest = append(largest, s)
			}
		}
		assert.Equal(t, largest, joined(a.Together), name)
		for _, m := range a.Machines {
			with += len(m.With)
			holdsMachine(t, name, m, [4]map[string]bool{safe, clean, air, cleanAir})
		}
	}
	assert.Greater(t, with, 10, "some machines must need company for this to say something")
}

// both are the sets that pass in two states.
func both(a, b map[string]bool) map[string]bool {
	out := map[string]bool{}
	for s, yes := range a {
		out[s] = yes && b[s]
	}
	return out
}

// holdsMachine checks what is said of one machine, by the sets that are safe, fine with the clean filter, with air at
// every resistance, and with air with the clean filter.
func holdsMachine(t *testing.T, name string, m Machine, sets [4]map[string]bool) {
	t.Helper()
	var holding [4][]string
	for i := range sets {
		holding[i] = slices.DeleteFunc(passed(sets[i]), func(s string) bool { return !part(m.Name, s) })
	}
	in := holding[0]
	assert.Equal(t, len(in), m.Sets, "%s, %s", name, m.Name)
	var least []string
	for _, s := range in {
		if !slices.ContainsFunc(in, func(o string) bool { return o != s && part(o, s) }) {
			least = append(least, s)
		}
	}
	switch {
	case slices.Contains(in, m.Name):
		assert.Equal(t, Alone, m.Served, "%s, %s", name, m.Name)
		assert.Empty(t, m.Why)
	case len(in) > 0:
		assert.Equal(t, WithOther, m.Served, "%s, %s", name, m.Name)
		var got []string
		for _, others := range m.With {
			all := append([]string{m.Name}, others...)
			slices.Sort(all)
			got = append(got, strings.Join(all, " "))
		}
		slices.Sort(got)
		assert.Equal(t, least, got, "%s, %s", name, m.Name)
	case len(holding[1]) > 0:
		assert.Equal(t, FirstOnly, m.Served, "%s, %s", name, m.Name)
	case len(holding[2]) > 0:
		assert.Equal(t, AirOnly, m.Served, "%s, %s", name, m.Name)
	case len(holding[3]) > 0:
		assert.Equal(t, AirFirst, m.Served, "%s, %s", name, m.Name)
	default:
		assert.Equal(t, Never, m.Served, "%s, %s", name, m.Name)
	}
	if m.Served != Alone {
		assert.NotEmpty(t, m.Why, "%s, %s", name, m.Name)
	}
}

// part tells that every name of one set is in another.
func part(s, of string) bool {
	for _, n := range strings.Fields(s) {
		if !slices.Contains(strings.Fields(of), n) {
			return false
		}
	}
	return true
}

func joined(list []Together) []string {
	var out []string
	for _, t := range list {
		out = append(out, strings.Join(t.Machines, " "))
	}
	slices.Sort(out)
	return out
}

// TestOneMoreGateGivesNobodyMoreAir is the law by which sets are left out: with losses that rise with their own flow
// and a falling fan curve, a machine never gains by another one's gate.
func TestOneMoreGateGivesNobodyMoreAir(t *testing.T) {
	const seed = 7
	rnd := rand.New(rand.NewPCG(seed, 0))
	for k := range shops {
		c := invented(rnd, 5, false)
		m, err := duct.New(c)
		require.NoError(t, err)
		flows := func(bits int) []duct.MachineFlow {
			st := shop.Setting{Open: map[string]bool{}}
			for i := range c.Machines {
				st.Open[c.Gates[i].Name] = bits>>i&1 == 1
			}
			r, err := m.Solve(duct.State{Setting: st})
			require.NoError(t, err)
			return r.Machines
		}
		for range 8 {
			bits, more := rnd.IntN(32), rnd.IntN(5)
			before, after := flows(bits), flows(bits|1<<more)
			for i := range before {
				if i != more {
					assert.LessOrEqual(t, after[i].Flow, before[i].Flow+1e-9, "seed %d, shop %d, open %05b and %d: m³/s at %s", seed, k, bits, more, before[i].Name)
				}
			}
		}
	}
}
