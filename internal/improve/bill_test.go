package improve

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/duct"
)

var questionState = duct.State{}

// TestCosts reckons by hand what changes of the poor shop cost by its own price list.
func TestCosts(t *testing.T) {
	s := load(t, "testdata/poor.yaml")
	a, err := Of(s.Collectors[0], Question{Prices: s.Prices})
	require.NoError(t, err)
	found := map[string]Proposal{}
	for _, p := range append(a.Advised, a.Refused...) {
		found[p.Text] = p
	}
	pipe120 := 9 + (11-9)*(0.12-0.1)/(0.125-0.1) // between 100 and 125 mm
	pipe180 := 15 + (20-15)*(0.18-0.16)/(0.2-0.16)
	gate125 := 35 + (55-35)*(0.125-0.1)/(0.16-0.1)
	rows := []struct {
		text string
		cost float64
	}{
		{"replace the 4 m of flexible hose in saw hose by smooth pipe", 4 * (pipe120 + 14)},
		{"pull the hose of saw hose out straight and cut off what is too much", 0},
		{"replace the mitred 90° elbow in trunk 2 by one of long radius (1.5 D)", 26 + 16},
		{"replace the mitred 90° elbow in trunk 2 by two of 45°, with a straight piece between", 2*(26+16) + 3*0.16*(15+14)},
		{"replace the butterfly planer gate by a slide that leaves the whole bore free", gate125 + 16},
		{"close the hole of 15 mm in trunk 2", 0},
		{"seal the seams of planer drop to class B (2.4 m² of duct)", math.Pi * 0.125 * 6 * (12 + 10)},
		// 11 m of pipe, one mitred elbow drawn as it is, three wyes, of which one has a leg of 200 mm now, and a cone at each end.
		{"put in 180 mm instead of 160 mm in the trunk, trunk 1 to trunk 3",
			11*(pipe180+14) + (26 + (36-26)*(0.18-0.16)/(0.2-0.16) + 16) + 3*(28+(62-28)*(0.18-0.1)/(0.2-0.1)+16) + 2*(17+16)},
	}
	for _, r := range rows {
		t.Run(r.text, func(t *testing.T) {
			p, ok := found[r.text]
			require.True(t, ok, "it is among the proposals")
			assert.InDelta(t, r.cost, p.Cost, 1e-9, "%+v", p.Needs)
			if r.cost > 0 {
				assert.InDelta(t, p.Gain/r.cost, p.PerMoney(), 1e-12)
			} else {
				assert.True(t, math.IsInf(p.PerMoney(), 1))
			}
		})
	}
	filter := found["put in 24 m² of filter instead of 16 m²"]
	assert.True(t, math.IsNaN(filter.Cost))
	assert.Equal(t, []string{"media"}, filter.Without, "the list has no price for it, and none is made up")
}

// TestSizes holds the sizes against the diameters of EN 1506 from 80 to 1000 mm (its recommended and additional ones,
// from memory).
func TestSizes(t *testing.T) {
	standard := []float64{80, 100, 125, 150, 160, 200, 250, 300, 315, 355, 400, 450, 500, 560, 630, 710, 800, 900, 1000}
	for _, mm := range standard {
		assert.Contains(t, sizes, mm/1000)
	}
	assert.IsIncreasing(t, sizes)
	assert.Equal(t, []float64{0.14, 0.15}, larger(0.125, 1, 2))
	assert.Equal(t, []float64{0.14}, larger(0.125, 0.14, 2))
	assert.Equal(t, []float64{0.18, 0.2}, larger(0.1524, 1, 2), "160 mm is hardly wider than 6 in")
	assert.Empty(t, larger(0.3, 0.315, 2), "300 and 315 mm are hardly two sizes")
}
