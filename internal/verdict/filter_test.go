package verdict_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/duct"
	"ductward/internal/shop"
	"ductward/internal/verdict"
)

func TestFilterAtLimit(t *testing.T) {
	rows := []struct {
		name string
		f    shop.Filter
		want float64
	}{
		{"at the same flow, media alone", shop.Filter{CleanDrop: 500, CleanFlow: 0.5, Limit: 1500, LimitFlow: math.NaN()}, 3},
		{"the housing does not load: (1400-40)/(600-40)", shop.Filter{CleanDrop: 600, HousingLoss: 40, CleanFlow: 0.5, Limit: 1400, LimitFlow: 0.5}, 1360.0 / 560},
		{"at twice the flow: (2000-4*50)/(2*450)", shop.Filter{CleanDrop: 500, HousingLoss: 50, CleanFlow: 0.5, Limit: 2000, LimitFlow: 1}, 2},
		{"no limit", shop.Filter{CleanDrop: 500, CleanFlow: 0.5, Limit: math.NaN(), LimitFlow: math.NaN()}, math.NaN()},
		{"above it when clean", shop.Filter{CleanDrop: 500, CleanFlow: 0.5, Limit: 800, LimitFlow: 1}, math.NaN()},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			got := verdict.FilterAtLimit(r.f)
			if math.IsNaN(r.want) {
				assert.True(t, math.IsNaN(got), "%g", got)
				return
			}
			assert.InDelta(t, r.want, got, 1e-12)
		})
	}
}

// TestFilterAtLimitReachesIt: at that resistance, in the reference air, a fan that moves the limit's flow sees the limit.
func TestFilterAtLimitReachesIt(t *testing.T) {
	c := load(t, "../../hardware/rig/shop.yaml")
	m, err := duct.New(c)
	require.NoError(t, err)
	setting, err := verdict.Opening(c, "thicknesser", "surface planer")
	require.NoError(t, err)
	r, err := m.Solve(duct.State{Setting: setting, FilterRatio: verdict.FilterAtLimit(c.Filter)})
	require.NoError(t, err)
	share := r.FanFlow / c.Filter.LimitFlow // the media's part goes with the flow, the housing's with its square
	housing := c.Filter.HousingLoss * math.Pow(c.Filter.LimitFlow/c.Filter.CleanFlow, 2)
	assert.InEpsilon(t, (c.Filter.Limit-housing)*share+housing*share*share, r.FilterDrop, 0.005, "Pa; the housing's density differs a little")
}
