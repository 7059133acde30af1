package plant

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestAgainstSolvedNetwork compares a plant built as drawn with an invented network that was solved by a root find on
// Colebrook and White's friction (SciPy 1.10.1, fluids 1.0.22) and, within 0.2 % of it, by EPANET's engine. Friction
// here is Haaland's and the fan's curve is rounded, so 1 % is what may be
// expected.
func TestAgainstSolvedNetwork(t *testing.T) {
	cases := []struct {
		name              string
		open              []string
		ratio             float64
		saw, band, planer float64 // m³/s
		drop              float64 // Pa across the filter
		trunk, fan        float64 // Pa static at the end of the trunk, m³/s
	}{
		{"all three open", []string{"saw gate", "band gate", "planer gate"}, 1, 0.20417, 0.155659, 0.371105, 380.09, -1368.4, 0.730934},
		{"saw only", []string{"saw gate"}, 1, 0.380282, 0, 0, 197.75, -2246.3, 0.380282},
		{"planer only", []string{"planer gate"}, 1, 0, 0, 0.563321, 292.93, -1877.0, 0.563321},
		{"saw and band saw", []string{"saw gate", "band gate"}, 1, 0.314491, 0.239785, 0, 288.22, -1898.8, 0.554276},
		{"planer only, loaded filter", []string{"planer gate"}, 1400.0 / 520, 0, 0, 0.51171, 716.39, -1551.7, 0.51171},
	}
	const tolerance = 0.01
	p := newPlant(t, threeDrops(), Exact())
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			p.SetFilterRatio(c.ratio)
			openGates(t, p, c.open...)
			got, err := p.Truth()
			require.NoError(t, err)
			assert.InEpsilon(t, c.fan, got.FanFlow, tolerance, "fan flow, m³/s")
			assert.InEpsilon(t, c.drop, p.Mean("main/filter"), tolerance, "filter drop, Pa")
			assert.InEpsilon(t, c.trunk, p.Mean("main/trunk"), tolerance, "trunk static, Pa")
			for i, want := range []float64{c.saw, c.band, c.planer} {
				assert.InDelta(t, want, got.Machines[i].Flow, tolerance*want+1e-6, "%s, m³/s", got.Machines[i].Name)
			}
		})
	}
}

func BenchmarkSolve(b *testing.B) {
	p := newPlant(b, workshop(), DefaultOptions(1))
	p.SetFan(true)
	_ = p.SetPort("hose", 1)
	gates := []string{"saw gate", "band gate", "planer gate", "hose gate"}
	for i := 0; b.Loop(); i++ {
		g := gates[i%4]
		_ = p.SetGate(g, !p.GateOpen(g))
		_ = p.UseMachine("saw")
		if err := p.Err(); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSample(b *testing.B) {
	p := newPlant(b, workshop(), DefaultOptions(1))
	p.SetFan(true)
	_ = p.SetGate("saw gate", true)
	tap := p.Tap("main/trunk")
	sum := 0.0
	for b.Loop() {
		sum += tap.Sample(1)
	}
	b.ReportMetric(sum/float64(b.N), "Pa")
}
