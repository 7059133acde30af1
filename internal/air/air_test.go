package air_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/air"
)

// Densities of moist air computed with psychrolib 1.1.1, which implements ASHRAE Handbook Fundamentals 2017, ch. 1.
func TestDensityOfMoistAir(t *testing.T) {
	tests := []struct {
		celsius, pressure, humidity float64
		want                        float64 // kg/m³
		tolerance                   float64 // relative: the last printed digit
	}{
		{20, 101325, 0, 1.2041, 0.0002},
		{20, 101325, 0.5, 1.1989, 0.001},
		{25, 101325, 0.5, 1.177, 0.001},
		{0, 101325, 0.8, 1.29, 0.001},
		{35, 101325, 0.8, 1.1263, 0.001},
		{35, 101325, 0, 1.1455, 0.001},
		{20, 89875, 0.5, 1.0628, 0.001},
		{20, 101325, 1, 1.1936, 0.001},
		{10, 98000, 0.4, 1.2035, 0.001},
	}
	for _, tt := range tests {
		t.Run(fmt.Sprintf("%g °C %g Pa %g", tt.celsius, tt.pressure, tt.humidity), func(t *testing.T) {
			got, err := air.At(tt.celsius+273.15, tt.pressure, tt.humidity)
			require.NoError(t, err)
			assert.InEpsilon(t, tt.want, got.Density, tt.tolerance, "density in kg/m³")
		})
	}
}

// The US handbooks' standard air, 0.075 lb/ft³ (ACGIH, AMCA and ASHRAE practice; 1 lb/ft³ is 16.018463 kg/m³), is
// neither the SI fan convention of 1.2 kg/m³ nor dry air at 20 °C and one atmosphere.
func TestThreeStandardAirs(t *testing.T) {
	imperial := 0.075 * 16.018463
	dry, err := air.At(293.15, 101325, 0)
	require.NoError(t, err)
	assert.Equal(t, 1.2, air.Reference().Density)
	assert.Less(t, air.Reference().Density, imperial)
	assert.Less(t, imperial, dry.Density)
	assert.InDelta(t, 0.0023, dry.Density/imperial-1, 0.0003)
}

// Viscosities by Sutherland's formula with the constants of the US Standard Atmosphere 1976; 1.7894e-5 at 15 °C is its
// tabulated value at sea level (constants and table from memory; the formula itself is what is tested).
func TestViscosity(t *testing.T) {
	for celsius, want := range map[float64]float64{0: 1.7161e-5, 15: 1.7894e-5, 20: 1.8134e-5, 40: 1.9076e-5} {
		assert.InEpsilon(t, want, air.Viscosity(celsius+273.15), 5e-4, "Pa s at %g °C", celsius)
	}
	// Printed on a Moody diagram: kinematic viscosity of air at 20 °C and 101.325 kPa is 1.511e-5 m²/s.
	dry, err := air.At(293.15, 101325, 0)
	require.NoError(t, err)
	assert.InEpsilon(t, 1.51e-5, dry.Viscosity/dry.Density, 0.005)
}

// ISO 2533:1975, geopotential altitude.
func TestStandardAtmosphere(t *testing.T) {
	tests := []struct{ altitude, pressure, density float64 }{
		{0, 101325, 1.2250},
		{500, 95461, 1.1673},
		{1000, 89875, 1.1116},
		{2000, 79495, 1.0065},
		{3000, 70109, 0.90912},
	}
	for _, tt := range tests {
		assert.InEpsilon(t, tt.pressure, air.PressureAt(tt.altitude), 1e-4, "Pa at %g m", tt.altitude)
		at, err := air.At(288.15-0.0065*tt.altitude, air.PressureAt(tt.altitude), 0)
		require.NoError(t, err)
		assert.InEpsilon(t, tt.density, at.Density, 1e-4, "kg/m³ at %g m", tt.altitude)
	}
	// ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 3, at 1500 m: another formula for the same air.
	assert.InEpsilon(t, 84556, air.PressureAt(1500), 1e-4)
}

func TestRefusals(t *testing.T) {
	for _, tt := range []struct {
		t, p, rh float64
		says     string
	}{
		{20, 101325, 0.5, "give kelvins"},
		{math.NaN(), 101325, 0.5, "temperature NaN"},
		{293, 1013.25, 0.5, "absolute pressure"},
		{293, 101325, 50, "give 0.5 for 50 %"},
		{293, 101325, -0.1, "outside 0..1"},
	} {
		_, err := air.At(tt.t, tt.p, tt.rh)
		assert.ErrorContains(t, err, tt.says)
	}
}

func TestLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		temperature := rapid.Float64Range(255, 320).Draw(t, "K")
		pressure := rapid.Float64Range(7e4, 1.05e5).Draw(t, "Pa")
		humidity := rapid.Float64Range(0, 0.95).Draw(t, "rh")
		a, err := air.At(temperature, pressure, humidity)
		require.NoError(t, err)
		damper, err := air.At(temperature, pressure, humidity+0.05)
		require.NoError(t, err)
		assert.Less(t, damper.Density, a.Density, "damp air is lighter")
		warmer, err := air.At(temperature+1, pressure, humidity)
		require.NoError(t, err)
		assert.Less(t, warmer.Density, a.Density, "warm air is lighter")
		assert.Greater(t, warmer.Viscosity, a.Viscosity, "warm air is more viscous")
	})
}

// The two saturation formulas meet at the freezing point.
func TestSaturationMeetsAtFreezing(t *testing.T) {
	assert.InEpsilon(t, air.SaturationPressure(273.15), air.SaturationPressure(273.15-1e-9), 1e-4)
	// The vapour pressure of water at its triple point is 611.66 Pa (IAPWS).
	assert.InEpsilon(t, 611.66, air.SaturationPressure(273.16), 1e-3)
}

func ExampleAt() {
	a, err := air.At(293.15, air.PressureAt(430), 0.5)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.3f kg/m³, %.2f µPa s\n", a.Density, a.Viscosity*1e6)
	// Output: 1.139 kg/m³, 18.13 µPa s
}
