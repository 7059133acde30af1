package estimate

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/shop"
)

// TestTheWeatherMovesAPartThatFeelsMass: its reading goes with the ambient pressure, which nobody measures in the demo's shop, and is
// corrected by a barometer where there is one. It lasts for days as the weather does.
func TestTheWeatherMovesAPartThatFeelsMass(t *testing.T) {
	at := func(e *Estimator, name string) *meter {
		for c, s := range e.cols.sensors {
			if s.Name == name {
				return &e.cols.meters[c]
			}
		}
		return nil
	}
	e := demo(t)
	require.Equal(t, "sdp8xx", e.collector.Sensor("trunk velocity").From.Chip)
	assert.InDelta(t, unknownWeather, at(e, "trunk velocity").air, 1e-12)
	assert.Zero(t, at(e, "trunk static").air, "a membrane feels the pressure")
	velocity := at(e, "trunk velocity")
	assert.InDelta(t, 0.009+0.0005, velocity.daily(1), 0.0005)
	assert.InDelta(t, 0.024, velocity.daily(0), 0.001, "over many days √7 times as much as if each were new weather")
	assert.InDelta(t, dayErrorLong, at(e, "trunk static").daily(0), 1e-12)

	s, problems, err := shop.Load("../../hardware/rig/shop.yaml")
	require.NoError(t, err)
	require.NoError(t, shop.Errors(problems))
	s.Collectors[0].Sensors = append(s.Collectors[0].Sensors, &shop.Sensor{Name: "barometer", Measures: shop.BarometricPressure})
	e, err = New(s, s.Collectors[0])
	require.NoError(t, err)
	assert.Zero(t, at(e, "trunk velocity").air, "the barometer corrects it")
}
