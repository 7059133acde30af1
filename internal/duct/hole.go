package duct

import "math"

// holeFlow is the discharge coefficient of a plain hole with sharp edges in a thin wall: 0.61 (any book on orifices;
// ACGIH Industrial Ventilation, 24th ed., has 1.78 velocity pressures for it, 1/√(1 + 1.78) = 0.60).
const holeFlow = 0.61

// holeLaw is the leak law of a plain hole of a diameter (m) in air of 1.2 kg/m³: Q = Cd·A·√(2Δp/ρ).
func holeLaw(diameter float64) leakLaw {
	return leakLaw{c: holeFlow * circle(diameter) * math.Sqrt(2/1.2), n: 0.5}
}
