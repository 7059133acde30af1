package balance

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// benchmark asks about an invented shop with two runs a machine: with the needs that it comes with, so that air rules most
// sets out; with none (NaN), so that it rules out none; or with small ones (m³/s), and dust that is carried, so that very
// many sets are to be told.
func benchmark(b *testing.B, machines int, needs float64) {
	c := invented(rand.New(rand.NewPCG(1, 0)), machines, true)
	if needs != asDrawn {
		for _, m := range c.Machines {
			m.Needs = needs
		}
	}
	if needs > 0 {
		c.Transport, c.Rating = 0.001, math.NaN()
	}
	var a *Answer
	var err error
	for b.Loop() {
		a, err = Of(c, Ask{})
		require.NoError(b, err)
	}
	b.ReportMetric(float64(len(c.Network.Runs)), "runs")
	b.ReportMetric(float64(a.Solved), "states")
	b.ReportMetric(float64(len(a.Together)), "sets")
}

const asDrawn = 0.0

func BenchmarkOf24Runs(b *testing.B)         { benchmark(b, 12, asDrawn) }
func BenchmarkOf40Runs(b *testing.B)         { benchmark(b, 20, asDrawn) }
func BenchmarkOf40RunsNoNeeds(b *testing.B)  { benchmark(b, 20, math.NaN()) }
func BenchmarkOf40RunsManySets(b *testing.B) { benchmark(b, 20, 0.11) }
func BenchmarkOf120RunsNoNeeds(b *testing.B) { benchmark(b, 60, math.NaN()) }
