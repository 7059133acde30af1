package shop

import (
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// priced is the demo's shop with a list of prices.
func priced(t *testing.T, prices string) *Prices {
	t.Helper()
	data, err := os.ReadFile(demoShop)
	require.NoError(t, err)
	s, problems := Parse("shop.yaml", append(data, prices...))
	require.Empty(t, problems, messages(problems))
	return s.Prices
}

func TestPrices(t *testing.T) {
	require.Nil(t, load(t, demoShop).Prices, "prices are not needed")
	p := priced(t, `
prices:
  currency: GBP
  pipe: {200 mm: 26, 6 in: 18, 160 mm: 20}
  elbow: 25
  sealing: 12
  labour: {pipe: 9, piece: 11}
`)
	require.Equal(t, "GBP", p.Currency)
	require.Len(t, p.Pipe, 3)
	require.InDelta(t, 0.1524, p.Pipe[0].Diameter, 1e-12, "by rising diameter")
	require.Equal(t, []float64{25, 25}, []float64{p.Elbow.At(0.1), p.Elbow.At(0.4)})
	require.Equal(t, Labour{Pipe: 9, Piece: 11}, p.Labour)
	require.Equal(t, 12.0, p.Sealing)
	require.True(t, math.IsNaN(p.Media) && math.IsNaN(p.Wye.At(0.2)), "a price that was not given is not 0")
}

// TestPriceOfASizeInBetween reads sizes that are not in the list.
func TestPriceOfASizeInBetween(t *testing.T) {
	b := BySize{{0.1, 10}, {0.2, 30}}
	for d, want := range map[float64]float64{0.1: 10, 0.2: 30, 0.15: 20, 0.125: 15, 0.08: 8, 0.4: 60} {
		require.InDelta(t, want, b.At(d), 1e-12, "%g m", d)
	}
}

// TestPricesLieBetweenTheirNeighbours: no size costs less than the cheaper, or more than the dearer, of the listed sizes
// around it.
func TestPricesLieBetweenTheirNeighbours(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var b BySize
		d := 0.0
		for range rapid.IntRange(2, 8).Draw(t, "sizes") {
			d += rapid.Float64Range(0.01, 0.2).Draw(t, "step")
			b = append(b, SizePrice{d, rapid.Float64Range(0, 500).Draw(t, "price")})
		}
		i := rapid.IntRange(1, len(b)-1).Draw(t, "between")
		share := rapid.Float64Range(0, 1).Draw(t, "share")
		got := b.At(b[i-1].Diameter + share*(b[i].Diameter-b[i-1].Diameter))
		require.GreaterOrEqual(t, got, min(b[i-1].Price, b[i].Price)-1e-9)
		require.LessOrEqual(t, got, max(b[i-1].Price, b[i].Price)+1e-9)
	})
}
