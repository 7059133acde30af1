package duct_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/air"
	"ductward/internal/duct"
	"ductward/internal/shop"
)

// TestAHoleInTheMedium: what does not pass the dust passes the hole, and of that the orifice's own law is known: q = C·A·√(2Δp/ρ),
// with C 0.6 for a sharp edge (ACGIH, Industrial Ventilation: 1.78 velocity pressures on entry, from memory).
func TestAHoleInTheMedium(t *testing.T) {
	s, problems, err := shop.Load("../../hardware/rig/shop.yaml")
	require.NoError(t, err)
	require.NoError(t, shop.Errors(problems))
	c := s.Collectors[0]
	m := model(t, c)
	const area = 30e-4 // m²
	ref := air.Reference()
	past := 0.6 * area * math.Sqrt(2*m.ReferenceSuction()/ref.Density)
	housing := c.Filter.HousingLoss / (ref.Density * c.Filter.CleanFlow * c.Filter.CleanFlow)
	viscous := (c.Filter.CleanDrop - c.Filter.HousingLoss) / c.Filter.CleanFlow
	for _, density := range []float64{1.0, 1.2, 1.3} {
		for _, open := range []bool{true, false} {
			st := duct.State{Setting: setting(c, 0), FilterRatio: 2, PastFilter: past,
				Air: air.State{Density: density, Viscosity: ref.Viscosity, Temperature: 290}}
			if open {
				st.Setting = setting(c, 1)
			}
			r := solve(t, m, st)
			medium := r.FilterDrop - housing*density*r.FanFlow*r.FanFlow
			through := medium / (2 * viscous)
			beside := 0.6 * area * math.Sqrt(2*medium/density)
			assert.InEpsilon(t, r.FanFlow, through+beside, 1e-6, "open %v, %.1f kg/m³", open, density)
			st.PastFilter = 0
			whole := solve(t, m, st)
			assert.Less(t, r.FilterDrop, whole.FilterDrop)
			if !open {
				assert.Less(t, r.FilterDrop, 0.7*whole.FilterDrop, "of little air more takes the hole")
			}
		}
	}
	_, err = m.Solve(duct.State{Setting: setting(c, 1), PastFilter: -1})
	assert.ErrorContains(t, err, "past the filter")
}

// TestWhatTheHousingLoses beyond the shop file goes with the density and the square of the flow, whatever the medium does.
func TestWhatTheHousingLoses(t *testing.T) {
	s, problems, err := shop.Load("../../hardware/rig/shop.yaml")
	require.NoError(t, err)
	require.NoError(t, shop.Errors(problems))
	c := s.Collectors[0]
	m := model(t, c)
	const more = 60.0 // Pa at the clean flow
	ref := air.Reference()
	viscous := (c.Filter.CleanDrop - c.Filter.HousingLoss) / c.Filter.CleanFlow
	for _, ratio := range []float64{1, 2} {
		st := duct.State{Setting: setting(c, 1), FilterRatio: ratio, Housing: more,
			Air: air.State{Density: 1.1, Viscosity: ref.Viscosity, Temperature: 290}}
		r := solve(t, m, st)
		flow := r.FanFlow / c.Filter.CleanFlow
		want := ratio*viscous*r.FanFlow + (c.Filter.HousingLoss+more)*1.1/ref.Density*flow*flow
		assert.InEpsilon(t, want, r.FilterDrop, 1e-9, "ratio %g", ratio)
	}
	_, err = m.Solve(duct.State{Setting: setting(c, 1), Housing: -c.Filter.HousingLoss - 1})
	assert.ErrorContains(t, err, "housing")
}
