package quantity

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestPublishedFactors compares each unit with the factor printed in NIST Special Publication 811 (2008), Appendix
// B.8 and B.9, to as many digits as are printed there (exact ones are bold there and end in E+00 or shorter). Rows
// marked m are from memory of that table.
func TestPublishedFactors(t *testing.T) {
	rows := []struct {
		name    string
		kind    Kind
		written string
		want    float64 // SI
		rel     float64 // relative tolerance: half a unit of the last printed digit, or double rounding
	}{
		{"inch: 2.54 E-02 m, exact", Length, "1 in", 2.54e-2, 1e-15},
		{"foot: 3.048 E-01 m, exact", Length, "1 ft", 3.048e-1, 1e-15},
		{"millimetre", Length, "1 mm", 0.001, 1e-15},
		{"square foot: 9.290304 E-02 m², exact", Area, "1 ft2", 9.290304e-2, 1e-15},
		{"square inch: 6.4516 E-04 m², exact", Area, "1 in2", 6.4516e-4, 1e-15},
		{"cubic foot: 2.831685 E-02 m³", Volume, "1 ft3", 2.831685e-2, 2e-7},
		{"cubic foot a minute: 4.719474 E-04 m³/s", Flow, "1 cfm", 4.719474e-4, 1.1e-7},
		{"cubic metre an hour", Flow, "3600 m3/h", 1, 1e-15},
		{"inch of water, conventional: 2.490889 E+02 Pa", Pressure, "1 inH2O", 2.490889e2, 2.1e-7},
		{"millimetre of water, conventional: 9.80665 Pa", Pressure, "1 mmH2O", 9.80665, 1e-15},
		{"inch of mercury, conventional: 3.386389 E+03 Pa", Pressure, "1 inHg", 3.386389e3, 1.5e-7},
		{"millimetre of mercury, conventional: 1.333224 E+02 Pa", Pressure, "1 mmHg", 1.333224e2, 4e-7},
		{"psi: 6.894757 E+03 Pa", Pressure, "1 psi", 6.894757e3, 7.3e-8},
		{"millibar: 1 E+02 Pa, exact", Pressure, "1 mbar", 100, 1e-15},
		{"bar: 1 E+05 Pa, exact", Pressure, "1 bar", 1e5, 1e-15},
		{"foot a minute: 5.08 E-03 m/s, exact", Velocity, "1 fpm", 5.08e-3, 1e-15},
		{"mile an hour: 4.4704 E-01 m/s, exact", Velocity, "1 mph", 4.4704e-1, 1e-15},
		{"kilometre an hour: 2.777778 E-01 m/s", Velocity, "1 km/h", 2.777778e-1, 1.8e-7},
		{"pound a cubic foot: 1.601846 E+01 kg/m³", Density, "1 lb/ft3", 1.601846e1, 3.2e-7},
		{"horsepower (550 ft·lbf/s): 7.456999 E+02 W", Power, "1 hp", 7.456999e2, 6.8e-8},
		{"horsepower (metric): 7.354988 E+02 W", Power, "1 PS", 7.354988e2, 6.9e-8},
		{"pound: 4.535924 E-01 kg", Mass, "1 lb", 4.535924e-1, 1.1e-7},
		{"degree: 1.745329 E-02 rad", Angle, "1 deg", 1.745329e-2, 2.9e-7},
		{"revolution a minute: a sixtieth of one a second", Frequency, "60 rpm", 1, 1e-15},
		{"day: 8.64 E+04 s, exact", Duration, "1 day", 8.64e4, 1e-15},
		{"freezing water: 273.15 K, exact", Temperature, "0 degC", 273.15, 1e-15},
		{"32 degF is 0 degC", Temperature, "32 degF", 273.15, 1e-15},
		{"212 degF is 100 degC", Temperature, "212 degF", 373.15, 1e-15},
		{"absolute zero in degF: -459.67, exact", Temperature, "-459.67 degF", 0, 1e-12},
		// SMACNA units against EN 12237: class A, 0.027 l/s per m² at 1 Pa, is CL 19.2 at 1 in. of water:
		// 19.2 cfm per 100 ft² are 0.9754 l/s per m² (0.0508 l/s per m² each, computed by hand: 0.4719474/9.290304).
		{"cfm per 100 ft²", Seepage, "1 cfm/100ft2", 5.0800e-5, 1e-5},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			got, err := Parse(row.kind, row.written)
			require.NoError(t, err)
			require.InDelta(t, row.want, got, row.rel*math.Max(math.Abs(row.want), 1e-3), "%s in SI units", row.written)
		})
	}
}

// TestEveryUnitComesBack converts to every unit and back.
func TestEveryUnitComesBack(t *testing.T) {
	for k := range units {
		require.NotEmpty(t, Units(Kind(k)))
		for _, name := range Units(Kind(k)) {
			to, err := ParseUnit(Kind(k), name)
			require.NoError(t, err)
			back, err := FromSI(Kind(k), name, to(12.5))
			require.NoError(t, err)
			require.InDelta(t, 12.5, back, 1e-12, "%s of %s", name, Kind(k))
			_, ok := KindOf(name)
			require.True(t, ok)
		}
		_, err := Parse(Kind(k), Kind(k).Example())
		require.NoError(t, err, "the example of %s", Kind(k))
	}
}
