package air

import "math"

// The standard atmosphere of ISO 2533:1975, lowest layer.
const (
	seaLevelPressure    = 101325.0  // Pa
	seaLevelTemperature = 288.15    // K
	lapseRate           = 0.0065    // K/m
	standardGravity     = 9.80665   // m/s²
	standardGas         = 287.05287 // J/(kg K)
)

// PressureAt is the pressure (Pa) of the standard atmosphere at an altitude (m above sea level), the pressure that is
// assumed where no barometer is fitted. The weather moves the true one by some 2 %. The altitude is geopotential; a
// geometric one differs by 0.03 % of itself at 2000 m. It holds from -2000 to 11000 m and is held at those ends.
//
//	p = p0·(1 - L·H/T0)^(g/(R·L))      ISO 2533:1975, eq. 12
func PressureAt(altitude float64) float64 {
	h := math.Max(-2000, math.Min(altitude, 11000))
	return seaLevelPressure * math.Pow(1-lapseRate*h/seaLevelTemperature, standardGravity/(standardGas*lapseRate))
}
