package plant

import "math"

// The Reynolds numbers between which flow in a duct turns from laminar to turbulent (Moody's critical zone).
const (
	laminarEnd     = 2000.0
	turbulentStart = 4000.0
)

// haaland returns the Darcy friction factor of turbulent flow and its derivative by the Reynolds number,
//
//	1/√f = −1.8·log10((ε/3.7)^1.11 + 6.9/Re)
//
// with ε the relative roughness. Within 2 % of Colebrook and White for Re from 4000 to 1e8 and ε up to 0.05 (Haaland,
// J. Fluids Eng. 105 (1983) 89). rough is (ε/3.7)^1.11, which the caller keeps.
func haaland(rough, re float64) (f, slope float64) {
	x := rough + 6.9/re
	y := -1.8 * math.Log10(x)
	f = 1 / (y * y)
	dy := -1.8 / (math.Ln10 * x) * (-6.9 / (re * re))
	return f, -2 * f / y * dy
}

// friction returns f·Re, with f the Darcy friction factor, and its derivative by Re: 64 in laminar flow, Haaland's
// beyond the critical zone, and a straight line in f between. f·Re rather than f, because it stays finite at rest.
func friction(rough, re float64) (fRe, slope float64) {
	if re <= laminarEnd {
		return 64, 0
	}
	if re >= turbulentStart {
		f, df := haaland(rough, re)
		return f * re, f + re*df
	}
	low := 64 / laminarEnd
	high, _ := haaland(rough, turbulentStart)
	df := (high - low) / (turbulentStart - laminarEnd)
	f := low + df*(re-laminarEnd)
	return f * re, f + re*df
}
