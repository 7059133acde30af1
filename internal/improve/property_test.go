package improve

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/duct"
	"ductward/internal/shop"
	"ductward/internal/verdict"
)

// printed is everything about a collector that a change could touch; NaN is equal to itself in it.
func printed(c *shop.Collector) string {
	text := fmt.Sprintf("%+v %+v %+v %+v\n", c.Fan, c.Filter, c.Separator, c.Discharge)
	for _, g := range c.Gates {
		text += fmt.Sprintf("%+v\n", *g)
	}
	for _, s := range c.Selectors {
		text += fmt.Sprintf("%+v\n", *s)
	}
	for _, r := range c.Network.Runs {
		text += fmt.Sprintf("%+v\n", *r)
	}
	for _, j := range c.Network.Junctions {
		text += fmt.Sprintf("%+v\n", *j)
	}
	return text
}

// TestChangesTouchNothingButTheirDraft draws changes into drafts of drafts, in any order, and looks at the drawing and at
// each earlier draft afterwards.
func TestChangesTouchNothingButTheirDraft(t *testing.T) {
	all := drawn(t)
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.SampledFrom(all).Draw(t, "shop")
		d := newDraft(c, rapid.SampledFrom([]float64{1, 2}).Draw(t, "filter"))
		before := []string{printed(c)}
		drafts := []*draft{{Collector: c}}
		for range rapid.IntRange(1, 4).Draw(t, "changes") {
			list := changes(d.Collector, d.filter)
			if len(list) == 0 {
				break
			}
			before = append(before, printed(d.Collector))
			drafts = append(drafts, d)
			was, renewed := printed(d.Collector), fmt.Sprint(d.renewed, d.part, d.filter)
			next := d.with(rapid.SampledFrom(list).Draw(t, "change"))
			require.Equal(t, renewed, fmt.Sprint(d.renewed, d.part, d.filter))
			if next.filter == d.filter {
				require.NotEqual(t, was, printed(next.Collector), "a change changes something")
			}
			d = next
		}
		for i := range drafts {
			require.Equal(t, before[i], printed(drafts[i].Collector))
		}
	})
}

// TestEveryChangeCanBeSolved: the drafts hang together, whatever was drawn into them before.
func TestEveryChangeCanBeSolved(t *testing.T) {
	all := drawn(t)
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.SampledFrom(all).Draw(t, "shop")
		d := newDraft(c, 1)
		sets, _ := UsualSets(c)
		for range 3 {
			list := changes(d.Collector, d.filter)
			if len(list) == 0 {
				return
			}
			d = d.with(rapid.SampledFrom(list).Draw(t, "change"))
			out, err := d.try(sets, duct.State{})
			require.NoError(t, err)
			for i := range out {
				require.Len(t, out[i].flow, len(c.Machines))
				for _, q := range out[i].flow {
					require.False(t, math.IsNaN(q))
				}
			}
		}
	})
}

// TestNothingAdvisedLetsDustSettle solves each advised change once more and holds it against the verdict by itself.
func TestNothingAdvisedLetsDustSettle(t *testing.T) {
	var all []*shop.Collector
	for _, c := range drawn(t) {
		if len(c.Machines) < 8 { // the sets of a larger shop take long
			all = append(all, c)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		c := *rapid.SampledFrom(all).Draw(t, "shop")
		c.Transport = rapid.Float64Range(5, 25).Draw(t, "transport")
		share := rapid.Float64Range(0.5, 1.5).Draw(t, "needs")
		var machines []*shop.Machine
		for _, m := range c.Machines {
			own := *m
			own.Needs = share * 0.2
			if m.Needs > 0 {
				own.Needs = share * m.Needs
			}
			machines = append(machines, &own)
		}
		c.Machines = machines
		a, err := Of(&c, Question{})
		require.NoError(t, err)
		texts := map[string]bool{}
		for _, p := range a.Advised {
			texts[p.Text] = true
			require.Empty(t, p.Since)
			require.GreaterOrEqual(t, p.Gain, leastGain)
		}
		before := newDraft(&c, 1)
		for _, ch := range changes(&c, 1) {
			if texts[ch.text] {
				settlesNowhereNew(t, before, before.with(ch), a.Sets)
			}
		}
		for _, s := range a.Steps {
			require.Empty(t, s.Since)
			require.False(t, s.NewlyShort())
		}
	})
}

// settlesNowhereNew holds that no used run is slow after a change that was not before, and no wider one in sets that count.
func settlesNowhereNew(t *rapid.T, before, after *draft, sets []Set) {
	old, err := duct.New(before.Collector)
	require.NoError(t, err)
	m, err := duct.New(after.Collector)
	require.NoError(t, err)
	for _, s := range sets {
		r, err := old.Solve(duct.State{Setting: s.Setting})
		require.NoError(t, err)
		slow := map[string]bool{}
		for _, x := range verdict.Of(before.Collector, r).Slow {
			slow[x.Run] = true
		}
		r, err = m.Solve(duct.State{Setting: s.Setting, FilterRatio: after.filter})
		require.NoError(t, err)
		for _, x := range verdict.Of(after.Collector, r).Slow {
			was := before.Run(after.drawn(x.Run))
			require.True(t, slow[was.Name], "%s settles with %s: %g m/s", x.Run, s.Name(), x.Velocity)
			if !s.Beyond {
				require.False(t, after.Run(x.Run).Diameter > 1.02*was.Diameter, "%s is wider and slow with %s", x.Run, s.Name())
			}
		}
	}
}

// TestAnswersAreTheSameEachTime asks twice, with several processors at work.
func TestAnswersAreTheSameEachTime(t *testing.T) {
	for _, c := range drawn(t) {
		a, err := Of(c, Question{})
		require.NoError(t, err)
		b, err := Of(c, Question{})
		require.NoError(t, err)
		require.Equal(t, fmt.Sprintf("%+v", a), fmt.Sprintf("%+v", b))
	}
}
