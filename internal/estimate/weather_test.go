package estimate

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/air"
	"ductward/internal/shop"
	"ductward/internal/steady"
)

// TestTheAirOfAMorningIsThatOfItsFirstReading: runs without a reading of the air take it from the nearest that has one, on
// either side, and only from near by.
func TestTheAirOfAMorningIsThatOfItsFirstReading(t *testing.T) {
	e := &Estimator{temperature: "main/air", barometer: "main/barometer",
		site: shop.Site{Temperature: 291, Humidity: 0.5, Altitude: 60}}
	run := func(minutes int, channels ...steady.Summary) observation {
		r := &steady.Run{Boot: 1, End: time.Duration(minutes) * time.Minute, Channels: channels}
		return observation{run: r, air: e.airOf(r), known: e.measured(r)}
	}
	warm := func(v float64) steady.Summary { return steady.Summary{Channel: "main/air", Mean: v} }
	obs := []observation{run(0), run(30, warm(295)), run(80), run(120, warm(298)), run(500)}
	e.lendAir(obs)

	degrees := make([]float64, len(obs))
	for i := range obs {
		degrees[i] = obs[i].air.Temperature
		assert.False(t, obs[i].known.barometer, "nobody reads one")
	}
	assert.Equal(t, []float64{295, 295, 298, 298, 291}, degrees)
	assert.True(t, obs[0].known.temperature)
	assert.False(t, obs[4].known.temperature, "more than two hours away")
	assert.False(t, weatherOf(obs).temperature)
	assert.True(t, weatherOf(obs[:4]).temperature)
	assert.Empty(t, obs[0].run.Channels, "the run itself stays as it was")
}

// TestWhatDampMakesOfTheDensity: 15 % of relative humidity at 22 °C, by the density of package air, whose own checks name their
// sources; and the less is known of the air, the less of its density.
func TestWhatDampMakesOfTheDensity(t *testing.T) {
	const kelvin, pressure = 273.15 + 22, 101325
	dry, err := air.At(kelvin, pressure, 0.50)
	require.NoError(t, err)
	damp, err := air.At(kelvin, pressure, 0.65)
	require.NoError(t, err)
	assert.InEpsilon(t, unknownDamp, 1-damp.Density/dry.Density, 0.03)

	all, noBarometer, nothing := weather{true, true}, weather{temperature: true}, weather{}
	for _, n := range []int{1, 2, 3, 0} {
		assert.Less(t, all.densityError(n), noBarometer.densityError(n))
		assert.Less(t, noBarometer.densityError(n), nothing.densityError(n))
	}
	assert.Less(t, all.densityError(1), all.densityError(0), "a spell of damp weather lasts")
}
