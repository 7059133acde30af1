package estimate

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

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
