package estimate

import (
	"math"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"ductward/internal/steady"
)

// suspecting returns an estimator of the demo's shop that has a baseline of every gate alone and of all shut, and a day on
// which each was run once.
func suspecting(t testing.TB, rating float64) (*Estimator, *dayData) {
	t.Helper()
	e := walker(t, rating)
	n := len(e.cols.channels)
	e.cal = &calibration{bias: map[string][]float64{}, variance: map[string][]float64{}, fresh: make([]float64, n)}
	for range n {
		e.cal.freshVar = append(e.cal.freshVar, 0.03*0.03)
	}
	d := &dayData{parts: 1, doubt: mat.NewSymDense(3+n, nil)}
	for i := range 3 + n {
		d.doubt.SetSym(i, i, 0.002*0.002)
	}
	sets := []*gateSet{e.closedSet()}
	for _, m := range e.collector.Machines {
		sets = append(sets, e.aloneSet(m.Name))
	}
	for i, g := range sets {
		r := steady.Run{Kind: g.kind, Open: g.open, Ports: e.restingPorts(g.setting), Start: time.Duration(i) * time.Hour, End: time.Duration(i)*time.Hour + 140*time.Second}
		for _, ch := range e.cols.channels {
			r.Channels = append(r.Channels, steady.Summary{Channel: ch, Mean: 500, SE: 1.5})
		}
		set := e.setOf(&r)
		e.cal.bias[set.key] = make([]float64, n)
		e.cal.variance[set.key] = slices.Repeat([]float64{0.003 * 0.003}, n)
		o := observation{set: set, run: &r}
		for c := range n {
			o.have = append(o.have, c)
		}
		d.obs = append(d.obs, o)
	}
	return e, d
}

// suspect makes a change of which some parts are suspected, each with a size.
func suspect(t testing.TB, e *Estimator, mass map[string]float64, sizes map[string]Value) *change {
	t.Helper()
	c := &change{onset: 0, ended: -1, mass: make([]float64, e.cols.changes), sizes: make([]Value, e.cols.changes), mean: 1, sd: 0.1}
	left := len(mass)
	for col := range e.cols.changes {
		if p := e.cols.part(col); mass[p] > 0 && !e.cols.isRepeat(col) {
			c.mass[col], c.sizes[col] = mass[p], sizes[p]
			left--
		}
	}
	require.Zero(t, left, "every part is one of the shop's")
	c.col = slices.Index(c.mass, slices.Max(c.mass))
	e.changes = []*change{c}
	return c
}

func m3h(v, se float64) Value { return Value{v / 3600, se / 3600} }

// TestASeatAndABlockedDropAreToldByShuttingTheGate: a leak past a shut gate shows whenever it is shut, a blocked drop only
// when it is open; from its own gate's runs alone the two look alike (they are correlated by -0.94 to -0.99 there).
func TestASeatAndABlockedDropAreToldByShuttingTheGate(t *testing.T) {
	e, d := suspecting(t, 4000)
	d.obs = d.obs[:0]
	d.obs = append(d.obs, observation{set: e.sets[e.aloneSet("bench saw").key], run: &steady.Run{End: time.Minute,
		Channels: []steady.Summary{{Channel: e.cols.channels[0], SE: 1}, {Channel: e.cols.channels[1], SE: 1}, {Channel: e.cols.channels[2], SE: 1}}}, have: []int{0, 1, 2}})
	suspect(t, e, map[string]float64{"seat:bench saw gate": 0.5, "blockage:bench saw": 0.5},
		map[string]Value{"seat:bench saw gate": m3h(60, 5), "blockage:bench saw": {0.3, 0.05}})
	e.plan(d)
	n := e.NextTest()
	require.NotNil(t, n)
	assert.InDelta(t, 1, n.Entropy, 1e-9, "bits: one or the other")
	require.NotEmpty(t, n.Tests)
	best := n.Tests[0]
	assert.NotContains(t, best.Open, "bench saw gate")
	assert.Greater(t, best.Gain, 0.9, "bits")
	assert.Greater(t, best.Likeliest, 0.97)
	assert.Equal(t, 2*time.Minute, best.Duration, "so plain that the shortest run will do")
	assert.ElementsMatch(t, []string{"seat:bench saw gate", "blockage:bench saw"}, best.Parts[:])
	assert.Contains(t, best.Reason, "Pa otherwise")
	assert.Empty(t, n.Reason)
}

// trunkOrDrop is suspected of a leak that shows in every set of gates.
func trunkOrDrop(t testing.TB, e *Estimator) {
	mass := map[string]float64{"run:trunk 2": 0.4, "drop:mortiser gate": 0.35, "run:trunk 10": 0.25}
	suspect(t, e, mass, map[string]Value{"run:trunk 2": m3h(100, 8), "drop:mortiser gate": m3h(105, 8), "run:trunk 10": m3h(80, 8)})
}

// TestNothingIsProposedThatTheDuctsAreNotKnownToBear: with a rating below what the fan can do, no set beyond it; without
// one, only what has been run.
func TestNothingIsProposedThatTheDuctsAreNotKnownToBear(t *testing.T) {
	for _, rating := range []float64{4000, 3100, 2500, math.NaN()} {
		e, d := suspecting(t, rating)
		for key := range e.sets {
			if math.IsNaN(rating) && len(e.sets[key].open) != 1 { // all shut has never been run
				delete(e.sets, key)
			}
		}
		trunkOrDrop(t, e)
		e.plan(d)
		n := e.NextTest()
		require.NotNil(t, n, "%v Pa", rating)
		sets, refused := e.candidates()
		for _, g := range sets {
			assert.True(t, e.bears(g), "%v Pa, %q", rating, g.open)
		}
		for _, p := range n.Tests {
			assert.True(t, e.bears(p.set), "%v Pa, %q", rating, p.Open)
			if math.IsNaN(rating) {
				assert.Len(t, p.Open, 1, "as it is run anyway")
			}
		}
		assert.Equal(t, rating == 4000, refused == 0, "%v Pa: %d refused", rating, refused)
	}
	e, d := suspecting(t, 500)
	trunkOrDrop(t, e)
	e.plan(d)
	require.NotNil(t, e.NextTest())
	assert.Empty(t, e.NextTest().Tests)
	assert.Contains(t, e.NextTest().Reason, "may exceed what the ducts are rated for")
}

// TestWhatIsSureIsNotTested, nor what no pressure can part.
func TestWhatIsSureIsNotTested(t *testing.T) {
	e, d := suspecting(t, 4000)
	e.plan(d)
	assert.Nil(t, e.NextTest(), "nothing is suspected")
	suspect(t, e, map[string]float64{"run:trunk 2": 0.95, "run:trunk 3": 0.05}, map[string]Value{"run:trunk 2": m3h(100, 8), "run:trunk 3": m3h(100, 8)})
	e.plan(d)
	assert.Nil(t, e.NextTest(), "it is known where")
	suspect(t, e, map[string]float64{"open-side:tenoner": 0.5, "blockage:tenoner": 0.5}, map[string]Value{"open-side:tenoner": m3h(100, 8), "blockage:tenoner": {-0.2, 0.03}})
	e.plan(d)
	assert.Nil(t, e.NextTest(), "a hose that lets air in and a drop that resists less read the same")
	trunkOrDrop(t, e)
	e.plan(d)
	assert.NotNil(t, e.NextTest())
	e.changes[0].ended = 3
	e.plan(d)
	assert.Nil(t, e.NextTest(), "it was mended")
}

// TestWhatWasTestedOftenTellsLittleMore, and the advice is the same each time that it is asked for.
func TestWhatWasTestedOftenTellsLittleMore(t *testing.T) {
	e, d := suspecting(t, 4000)
	trunkOrDrop(t, e)
	e.plan(d)
	first := *e.NextTest()
	require.NotEmpty(t, first.Tests)
	e.next.about = nil
	e.plan(d)
	assert.Equal(t, first, *e.NextTest())

	once := d.obs
	for range 60 {
		d.obs = append(d.obs, once...)
	}
	e.next.about = nil
	e.plan(d)
	for _, p := range e.NextTest().Tests {
		if p.Seen {
			assert.Less(t, p.Gain, first.Tests[0].Gain, "%q", p.Open)
		}
	}
}

// TestAPlanStandsUntilSomethingMoves: what hardly moved is not reckoned anew, but tells the suspects as they are.
func TestAPlanStandsUntilSomethingMoves(t *testing.T) {
	e, d := suspecting(t, 4000)
	trunkOrDrop(t, e)
	e.plan(d)
	was := e.NextTest()
	c := e.changes[0]
	from, to := slices.Index(c.mass, 0.4), slices.Index(c.mass, 0.25)
	c.mass[from], c.mass[to] = 0.39, 0.26
	e.plan(d)
	assert.Equal(t, was.Tests, e.NextTest().Tests)
	assert.InDelta(t, 0.4, was.Suspects[0].Probability, 1e-9, "what was handed out stays as it was")
	assert.NotEqual(t, was.Suspects, e.NextTest().Suspects)
	c.mass[from], c.mass[to] = 0.2, 0.45
	e.plan(d)
	assert.NotEqual(t, was.Tests[0].Gain, e.NextTest().Tests[0].Gain)
}

// TestToldAgainstConditioning: the mean and covariance of the next run of a set, given the mean of its runs so far, from
// the joint normal distribution of both; by hand for one channel.
func TestToldAgainstConditioning(t *testing.T) {
	one := func(v float64) *mat.SymDense { return mat.NewSymDense(1, []float64{v}) }
	const b, p, s, x, sd = 4.0, 1.0, 0.5, 6.0, 0.8
	mean, cov := told([]float64{s}, Value{x, sd}, one(b), nil)
	assert.InDelta(t, s*x, mean[0], 1e-12)
	assert.InDelta(t, b+s*s*sd*sd, cov.At(0, 0), 1e-12)
	mean, cov = told([]float64{s}, Value{x, sd}, one(b), one(p))
	f := p / (b + p)
	assert.InDelta(t, f*s*x, mean[0], 1e-12)
	assert.InDelta(t, f*b+f*f*s*s*sd*sd, cov.At(0, 0), 1e-12, "the ratio's variance after the runs, by the usual formula")
}

// TestAProposalNamesItsSelectors where they matter: a machine on a shared hose needs the hose.
func TestAProposalNamesItsSelectors(t *testing.T) {
	e, _ := suspecting(t, 4000)
	assert.Equal(t, map[string]int{"moulder hose": 2}, e.portsOf(e.aloneSet("tenoner")))
	assert.Empty(t, e.portsOf(e.aloneSet("band saw")), "behind its shut gate the hose hangs where it hangs")
	assert.Nil(t, e.machineSet([]string{"tenoner", "spindle moulder"}), "one hose serves one at a time")
	assert.Len(t, e.branchSet("trunk 2").open, 2)
}

// BenchmarkPlan is what a day costs on which a test is chosen.
func BenchmarkPlan(b *testing.B) {
	e, d := suspecting(b, 4000)
	trunkOrDrop(b, e)
	for b.Loop() {
		e.next.about = nil
		e.plan(d)
	}
}
