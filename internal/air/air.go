package air

import (
	"fmt"
	"math"
)

// State is air at one temperature, pressure and humidity.
type State struct {
	Temperature float64 // K
	Pressure    float64 // Pa absolute
	Humidity    float64 // relative, 0..1
	Density     float64 // kg/m³
	Viscosity   float64 // Pa s, dynamic
}

// Constants of the two gases.
const (
	// gasConstantDry is that of dry air in J/(kg K): ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 1.
	gasConstantDry = 287.042
	// vapourRatio is the ratio of the molar masses of water and dry air, 18.015268/28.966: ASHRAE Handbook
	// Fundamentals 2017, ch. 1, text to eq. 2 and eq. 20.
	vapourRatio = 0.621945
	zeroCelsius = 273.15
)

// What At accepts: a workshop anywhere on Earth, with a margin. Outside it a number is a mistake in a unit more often
// than weather.
const (
	minTemperature = 203.15 // K, -70 °C
	maxTemperature = 373.15 // K, 100 °C; the saturation formula holds to 200 °C, but no workshop does
	minPressure    = 3e4    // Pa, thinner than on the highest mountain
	maxPressure    = 1.2e5  // Pa
)

// At gives the state of air at a temperature (K), an absolute pressure (Pa) and a relative humidity (0..1).
//
//	density = (p - pw)/(Ra T) + pw·0.621945/(Ra T),  pw = humidity·SaturationPressure(T)
//
// It is an error to ask for a temperature outside -70..100 °C, a pressure outside 30..120 kPa, a humidity outside
// 0..1, or for a number that is none.
func At(temperature, pressure, humidity float64) (State, error) {
	switch {
	case !(temperature >= minTemperature && temperature <= maxTemperature):
		return State{}, fmt.Errorf("air temperature %g K is outside %g..%g K; give kelvins, not degrees", temperature, minTemperature, maxTemperature)
	case !(pressure >= minPressure && pressure <= maxPressure):
		return State{}, fmt.Errorf("air pressure %g Pa is outside %g..%g Pa; give the absolute pressure at the site, not reduced to sea level", pressure, minPressure, maxPressure)
	case !(humidity >= 0 && humidity <= 1):
		return State{}, fmt.Errorf("relative humidity %g is outside 0..1; give 0.5 for 50 %%", humidity)
	}
	// Near boiling point at low pressure there can be no more vapour than there is pressure.
	vapour := math.Min(humidity*SaturationPressure(temperature), pressure)
	dry := pressure - vapour
	return State{
		Temperature: temperature,
		Pressure:    pressure,
		Humidity:    humidity,
		Density:     (dry + vapourRatio*vapour) / (gasConstantDry * temperature),
		Viscosity:   Viscosity(temperature),
	}, nil
}

// Reference is the air at which fans are rated in SI practice: 1.2 kg/m³ at 20 °C. Its density is a
// convention (moist air at 20 °C and one atmosphere has 1.199 kg/m³), its pressure and humidity are the usual ones.
func Reference() State {
	const t = 20 + zeroCelsius
	return State{Temperature: t, Pressure: seaLevelPressure, Humidity: 0.5, Density: 1.2, Viscosity: Viscosity(t)}
}

// Viscosity is the dynamic viscosity (Pa s) of air at a temperature (K), by Sutherland's formula
//
//	μ = 1.458e-6·T^1.5/(T + 110.4)
//
// with the constants of the US Standard Atmosphere 1976, eq. 51. Humidity lowers it by less than 1 % below 40 °C,
// which is left out.
func Viscosity(temperature float64) float64 {
	return 1.458e-6 * temperature * math.Sqrt(temperature) / (temperature + 110.4)
}

// SaturationPressure is the pressure (Pa) of saturated water vapour at a temperature (K), over ice below 0 °C and over
// water above, by ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 5 and 6 (after Hyland and Wexler 1983). It holds from
// -100 to 200 °C.
func SaturationPressure(temperature float64) float64 {
	t := temperature
	if t < zeroCelsius {
		return math.Exp(-5.6745359e3/t + 6.3925247 - 9.677843e-3*t + 6.2215701e-7*t*t +
			2.0747825e-9*t*t*t - 9.484024e-13*t*t*t*t + 4.1635019*math.Log(t))
	}
	return math.Exp(-5.8002206e3/t + 1.3914993 - 4.8640239e-2*t + 4.1764768e-5*t*t -
		1.4452093e-8*t*t*t + 6.5459673*math.Log(t))
}
