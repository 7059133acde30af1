package plant

import "math"

// Weather is the air in the shop. It is incompressible in the ducts.
type Weather struct {
	Temperature float64 // K
	Pressure    float64 // Pa, absolute
	Humidity    float64 // relative, 0..1
}

// density returns the density of moist air in kg/m³ as a mixture of ideal gases, the vapour's saturation pressure by
// Magnus with Alduchov and Eskridge's constants (J. Appl. Meteor. 35 (1996) 601).
func (w Weather) density() float64 {
	c := w.Temperature - 273.15
	vapour := w.Humidity * 610.94 * math.Exp(17.625*c/(c+243.04))
	return (w.Pressure-vapour)/(287.055*w.Temperature) + vapour/(461.5*w.Temperature)
}

// viscosity returns the dynamic viscosity of air in Pa·s by a power law,
//
//	μ = 1.716e-5·(T/273.15 K)^0.7,
//
// within 1 % of Sutherland's formula from −20 to 60 °C (form: White, Viscous Fluid Flow, table 1-2, from memory).
func (w Weather) viscosity() float64 { return 1.716e-5 * math.Pow(w.Temperature/273.15, 0.7) }

// standard is the air in which a filter's clean drop and a fan's curve are taken to be stated: 20 °C.
var standard = Weather{Temperature: 293.15, Pressure: 101325, Humidity: 0.5}

// barometer returns the standard atmosphere's pressure in Pa at an altitude in m (ISO 2533).
func barometer(altitude float64) float64 { return 101325 * math.Pow(1-2.25577e-5*altitude, 5.25588) }
