package balance

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// benchmark asks about an invented shop with two runs a machine: with needs, so that air rules most sets out, or without,
// so that it rules out none.
func benchmark(b *testing.B, machines int, needs bool) {
	c := invented(rand.New(rand.NewPCG(1, 0)), machines, true)
	if !needs {
		for _, m := range c.Machines {
			m.Needs = math.NaN()
		}
	}
	var a *Answer
	var err error
	for b.Loop() {
		a, err = Of(c, Ask{})
		require.NoError(b, err)
	}
	b.ReportMetric(float64(len(c.Network.Runs)), "runs")
	b.ReportMetric(float64(a.Solved), "states")
}

func BenchmarkOf24Runs(b *testing.B)         { benchmark(b, 12, true) }
func BenchmarkOf40Runs(b *testing.B)         { benchmark(b, 20, true) }
func BenchmarkOf40RunsNoNeeds(b *testing.B)  { benchmark(b, 20, false) }
func BenchmarkOf120RunsNoNeeds(b *testing.B) { benchmark(b, 60, false) }
