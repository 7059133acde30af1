package duct

import (
	"fmt"
	"math"

	"ductward/internal/shop"
)

// Losses of open gates on the velocity pressure of the duct.
const (
	fullBoreLoss  = 0.05 // a slide that leaves nothing in the way: common practice, no source; 0 to 0.2
	butterflyLoss = 0.19 // the blade of a round butterfly along the air: Idelchik 1986, butterfly valve at 0°
)

// A round slide that opens to a part of the diameter: Idelchik 1986, diagram 9-5. The values span three decades, and
// between them their logarithm is read along straight lines, to the open gate at 1.
var (
	slideOpen = []float64{0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1}
	slideLoss = []float64{35, 10, 4.6, 2.1, 0.98, 0.44, 0.17, 0.06, fullBoreLoss}
)

// gateLoss is the loss coefficient of an open gate in a duct of a diameter (m), on the velocity pressure in it: the
// stated one, or that of its make and of how far it opens.
func gateLoss(g *shop.Gate, diameter float64) (float64, error) {
	if !math.IsNaN(g.Open) {
		return math.Max(0, g.Open), nil
	}
	if g.Kind == shop.Framed && !(g.Bore > 0) {
		return 0, fmt.Errorf("gate %q: the free bore of its frame, %g m, must be positive", g.Name, g.Bore)
	}
	k := fullBoreLoss
	switch g.Kind {
	case shop.Framed:
		k += frameLoss(g.Bore / diameter)
	case shop.Butterfly:
		k = butterflyLoss
	}
	if g.Opens > 0 && g.Opens < 1 {
		k += slideAt(g.Opens) - fullBoreLoss
	}
	return k, nil
}

// frameLoss is that of a frame whose free bore is a share of the duct's diameter: a thin sharp-edged orifice in a
// straight duct, Idelchik, diagram 4-15 (from memory), ζ = (1 + 0.707·√(1-f) - f)²/f² with f the share of the area.
func frameLoss(beta float64) float64 {
	f := beta * beta
	if f >= 1 {
		return 0
	}
	x := (1 + math.Sqrt(0.5*(1-f)) - f) / f
	return x * x
}

// slideAt is the loss of a round slide that opens to a share of the diameter.
func slideAt(open float64) float64 {
	logs := make([]float64, len(slideLoss))
	for i, k := range slideLoss {
		logs[i] = math.Log(k)
	}
	return math.Exp(along(slideOpen, logs, open))
}
