package duct

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/shop"
)

func lossOf(t *testing.T, g shop.Gate) float64 {
	t.Helper()
	k, err := gateLoss(&g, 0.12)
	require.NoError(t, err)
	return k
}

// A round slide that opens to a part of the diameter: Idelchik 1986, diagram 9-5.
func TestPartlyOpenSlide(t *testing.T) {
	for open, want := range map[float64]float64{0.2: 35, 0.3: 10, 0.4: 4.6, 0.5: 2.1, 0.6: 0.98, 0.7: 0.44, 0.8: 0.17, 0.9: 0.06} {
		assert.InEpsilon(t, want, lossOf(t, shop.Gate{Open: math.NaN(), Opens: open}), 1e-9, "opens to %g", open)
	}
	last := math.Inf(1)
	for open := 0.2; open <= 1; open += 0.01 {
		k := lossOf(t, shop.Gate{Open: math.NaN(), Opens: open})
		assert.Less(t, k, last, "the further the freer, between the entries too: %g", open)
		last = k
	}
	// A full-bore gate has about 0.05 (common practice, no source).
	assert.Equal(t, fullBoreLoss, lossOf(t, shop.Gate{Open: math.NaN(), Opens: 1}))
	assert.Equal(t, fullBoreLoss, lossOf(t, shop.Gate{Open: math.NaN()}))
}

func TestWhatStandsInAnOpenGate(t *testing.T) {
	assert.Equal(t, 0.19, lossOf(t, shop.Gate{Open: math.NaN(), Kind: shop.Butterfly}), "Idelchik 1986, round butterfly valve at 0°")
	framed := func(bore float64) float64 {
		return lossOf(t, shop.Gate{Open: math.NaN(), Kind: shop.Framed, Bore: bore})
	}
	assert.InDelta(t, fullBoreLoss, framed(0.12), 1e-12, "a frame as wide as the pipe is none")
	assert.Greater(t, framed(0.09), framed(0.10))
	// ISO 5167-2, annex: the loss of an orifice plate by its discharge coefficient of about 0.61, K = (√(1-β⁴(1-C²))/(C·β²) - 1)²,
	// is another way to the same: within 30 %.
	const beta, c = 0.75, 0.61
	b4 := beta * beta * beta * beta
	x := math.Sqrt(1-b4*(1-c*c))/(c*beta*beta) - 1
	assert.InEpsilon(t, x*x, frameLoss(beta), 0.3)
	assert.Greater(t, lossOf(t, shop.Gate{Open: math.NaN(), Kind: shop.Framed, Bore: 0.1, Opens: 0.8}), framed(0.1))
}

func TestStatedGateLoss(t *testing.T) {
	assert.Equal(t, 0.3, lossOf(t, shop.Gate{Open: 0.3}))
	assert.Zero(t, lossOf(t, shop.Gate{}), "0 is a number")
	_, err := gateLoss(&shop.Gate{Name: "saw gate", Kind: shop.Framed, Open: math.NaN()}, 0.12)
	assert.ErrorContains(t, err, `gate "saw gate"`)
}
