// Package air gives the properties of the air that a collector moves: density from temperature, pressure and humidity,
// and dynamic viscosity from temperature.
//
// All numbers are SI: temperature in K, absolute pressure in Pa, relative humidity as a ratio 0..1, density in kg/m³,
// dynamic viscosity in Pa s, altitude in m. Air is a mixture of two ideal gases, dry air and water vapour; at the
// pressures of a duct (a few per cent below the atmosphere) it is taken as incompressible, with the properties of the
// room. The package reads no clock and does no I/O.
package air
