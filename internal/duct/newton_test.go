package duct

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/shop"
)

// onePipe is the least there is to solve: a machine, a duct, a filter and a fan.
func onePipe() *shop.Collector {
	return &shop.Collector{
		Name: "c", Rating: math.NaN(),
		Fan:      shop.Fan{Density: 1.2, Points: []shop.CurvePoint{{Flow: 0, Pressure: 2000}, {Flow: 1, Pressure: 500}}},
		Filter:   shop.Filter{CleanDrop: 200, CleanFlow: 0.5},
		Machines: []*shop.Machine{{Name: "saw", Needs: math.NaN()}},
		Network: &shop.Network{Runs: []*shop.Run{{
			Name: "duct", From: shop.End{Kind: shop.EndMachine, Name: "saw"}, To: shop.End{Kind: shop.EndCollector},
			Diameter: 0.15, Length: 4, Roughness: 9e-5, Stretch: 1, Rating: math.NaN(), Tightness: shop.Leakage{C: 3e-6, N: 0.65},
		}}},
	}
}

// What is not a number is no solution, wherever it stands.
func TestNotANumberIsNotDone(t *testing.T) {
	m, err := New(onePipe())
	require.NoError(t, err)
	for name, spoil := range map[string]func(w *work){
		"a flow":               func(w *work) { w.q[0] = math.NaN() },
		"a pressure":           func(w *work) { w.p[0] = math.NaN() },
		"the collector's flow": func(w *work) { w.q[len(w.q)-1] = math.NaN() },
	} {
		w := newWork(m)
		require.NoError(t, w.prepare(&State{}))
		_, ok := w.search(nil)
		require.True(t, ok)
		require.True(t, w.done(), "a solution")
		spoil(w)
		w.evaluate()
		assert.False(t, w.done(), name)
		_, ok = w.newton()
		assert.False(t, ok, name)
	}
}
