package worth

import (
	"math"
	"runtime"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/bound"
	"ductward/internal/shop"
)

// load reads a shop file's first collector, with the question that is usual there and few draws.
func load(t testing.TB, path string) (*shop.Collector, Question) {
	t.Helper()
	s, problems, err := shop.Load(path)
	require.NoError(t, err)
	require.NoError(t, shop.Errors(problems))
	q, err := Usual(s.Site)
	require.NoError(t, err)
	q.Draws = 30
	return s.Collectors[0], q
}

func demo(t testing.TB) (*shop.Collector, Question) { return load(t, "../../hardware/rig/shop.yaml") }

// kinds lists the candidates' kinds, each once, in their order.
func kinds(a *Answer) []Kind {
	var out []Kind
	for _, c := range a.Candidates {
		if !slices.Contains(out, c.Kind) {
			out = append(out, c.Kind)
		}
	}
	return out
}

// best is the best candidate of a kind.
func best(t testing.TB, a *Answer, k Kind) *Candidate {
	t.Helper()
	i := slices.IndexFunc(a.Candidates, func(c Candidate) bool { return c.Kind == k })
	require.GreaterOrEqual(t, i, 0, "no candidate %q", k)
	return &a.Candidates[i]
}

// TestTheDemosShop: a tap along the trunk tells the place, a check with every gate shut the size; what is fitted already is
// no candidate; nothing that is added makes anything worse.
func TestTheDemosShop(t *testing.T) {
	c, q := demo(t)
	a, err := Of(c, q)
	require.NoError(t, err)
	assert.Equal(t, "main", a.Collector)
	assert.NotContains(t, kinds(a), Pressure)
	assert.NotContains(t, kinds(a), Velocity)
	require.Empty(t, a.Refused)
	for i, k := range a.Candidates {
		if i > 0 {
			assert.LessOrEqual(t, k.Score, a.Candidates[i-1].Score, "what brings most first")
		}
		assert.LessOrEqual(t, k.Score, 1.0)
		assert.LessOrEqual(t, k.Figures.Filter, a.Now.Filter*1.02, k.Text) // checks take a little of the day's time
		assert.LessOrEqual(t, k.Figures.Air, a.Now.Air*1.02, k.Text)
		assert.LessOrEqual(t, k.Figures.Week, a.Now.Week*1.05, k.Text) // one more sensor is one more question that may be a false alarm
		for z := range k.Figures.Zones {
			assert.LessOrEqual(t, k.Figures.Zones[z].SD, a.Now.Zones[z].SD*1.02, "%s: %s", k.Text, a.Now.Zones[z].Part)
		}
	}
	tap, check := best(t, a, FarTap), best(t, a, DailyCheck)
	assert.Greater(t, tap.Figures.Stretch, a.Now.Stretch+0.2)
	assert.Less(t, check.Figures.Week, a.Now.Week/2)
	assert.Less(t, check.Figures.Day, tap.Figures.Day)
	assert.Contains(t, a.First(), "what would bring most is ")
	assert.Contains(t, a.First(), "is found within a week instead of one of ")
}

// TestTheAnswerDoesNotDependOnTheProcessors, nor on being asked again.
func TestTheAnswerDoesNotDependOnTheProcessors(t *testing.T) {
	c, q := load(t, "../../testdata/shops/two-collectors.yaml")
	first, err := Of(c, q)
	require.NoError(t, err)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	again, err := Of(c, q)
	require.NoError(t, err)
	assert.Equal(t, first.Candidates, again.Candidates)
}

// TestNoCheckThatTheDuctsMayNotBear: without a rating, with a run's own below what it would have to bear, and with a gate
// that is never shut, no stretch with every gate shut is proposed, and the reason is told.
func TestNoCheckThatTheDuctsMayNotBear(t *testing.T) {
	for want, spoil := range map[string]func(c *shop.Collector){
		"is not known (rating)": func(c *shop.Collector) { c.Rating = math.NaN() },
		"and is rated for 2000 Pa": func(c *shop.Collector) {
			c.Rating = 2000
		},
		"trunk 2 might have to bear": func(c *shop.Collector) { c.Run("trunk 2").Rating = 500 },
		"cannot be shut off": func(c *shop.Collector) {
			c.Gates[0].Position = &shop.Source{Kind: shop.SourceFixed, Fixed: true}
		},
	} {
		c, q := demo(t)
		spoil(c)
		list, refused, err := checks(c, q)
		require.NoError(t, err)
		assert.Empty(t, list)
		require.NotNil(t, refused, want)
		assert.Contains(t, refused.Reason, want)
	}
	c, q := demo(t)
	list, refused, err := checks(c, q)
	require.NoError(t, err)
	assert.Len(t, list, 2)
	assert.Nil(t, refused)
	q.Habits.Checks = bound.WeeklyCheck
	list, _, err = checks(c, q)
	require.NoError(t, err)
	assert.Len(t, list, 1, "what the shop does already is not proposed")
	q.Habits.Checks = bound.DailyCheck
	list, _, err = checks(c, q)
	require.NoError(t, err)
	assert.Empty(t, list)
}

// TestAShopWithoutSensors: everything is unknown, and the first sensor says something.
func TestAShopWithoutSensors(t *testing.T) {
	c, q := load(t, "../../testdata/shops/trunk-three-drops.yaml")
	c.Sensors = nil
	a, err := Of(c, q)
	require.NoError(t, err)
	assert.True(t, math.IsInf(a.Now.Week, 1))
	assert.True(t, math.IsNaN(a.Now.Filter))
	assert.True(t, math.IsNaN(a.Now.Stretch))
	assert.Contains(t, kinds(a), Pressure)
	assert.NotEmpty(t, a.Needy, "where no need is stated, it is the machine with the least air")
	assert.Greater(t, a.Candidates[0].Score, little)
	require.Len(t, a.Refused, 1)
}

// TestWhatIsTapped: a tap that is there is not proposed again, at neither of its places.
func TestWhatIsTapped(t *testing.T) {
	c, _ := demo(t)
	ends, middle := branchEnds(c), between(c, lastRun(c))
	require.NotEmpty(t, ends)
	require.Greater(t, len(middle), 3)
	c.Sensors = append(c.Sensors,
		&shop.Sensor{Name: "one", Measures: shop.StaticPressure, Run: ends[0], TapAt: shop.AtEnd},
		&shop.Sensor{Name: "two", Measures: shop.StaticPressure, Run: middle[1], TapAt: shop.AtEnd})
	assert.NotContains(t, branchEnds(c), ends[0])
	assert.Len(t, branchEnds(c), len(ends)-1)
	assert.NotContains(t, between(c, lastRun(c)), middle[1])
	for _, r := range ends {
		assert.NotEmpty(t, c.Run(r).Gate, "on the trunk's side of its gate")
	}
}

// TestScore: what shrinks to nothing in every respect is 1, what changes nothing is 0.
func TestScore(t *testing.T) {
	now := Figures{Week: 20, Apart: 30, Stretch: 0.5, Filter: 0.01}
	assert.Zero(t, score(now, now))
	assert.InDelta(t, 1, score(now, Figures{Stretch: 1}), 1e-12)
	assert.InDelta(t, (0.5+0.5+0.5+0.5)/4, score(now, Figures{Week: 10, Apart: 15, Stretch: 0.75, Filter: 0.005}), 1e-12)
	assert.Zero(t, score(now, Figures{Week: 40, Apart: 60, Stretch: 0.2, Filter: 0.02}), "what is worse counts as nothing")
	assert.InDelta(t, 0.75+0.25*0.4, score(nothing(), Figures{Week: 40, Apart: 60, Stretch: 0.4, Filter: 0.02}), 1e-12)
}

func TestNothingToSee(t *testing.T) {
	c, q := load(t, "../../testdata/shops/trunk-three-drops.yaml")
	for _, g := range c.Gates {
		g.Position = &shop.Source{Kind: shop.SourceFixed}
	}
	_, err := Of(c, q)
	assert.ErrorContains(t, err, "no machine can be opened")
}

// TestLacks: a collector with nothing but its two sensors is told what gates and a drawing would bring, and not what it has.
func TestLacks(t *testing.T) {
	c, _ := load(t, "../../testdata/shops/smallest.yaml")
	var keys []string
	for _, l := range Lacks(c) {
		keys = append(keys, l.Key)
		assert.NotEmpty(t, l.Brings)
	}
	assert.Equal(t, "ducts", keys[len(keys)-1])
	assert.Contains(t, keys, "gates")
	full, _ := demo(t)
	assert.Len(t, Lacks(full), 1)
}

func BenchmarkWorth(b *testing.B) {
	c, q := demo(b)
	for b.Loop() {
		if _, err := Of(c, q); err != nil {
			b.Fatal(err)
		}
	}
}
