package dashboard

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/estimate"
)

// TestGatesThatThePressuresTell are marked so; what switches tell needs no word.
func TestGatesThatThePressuresTell(t *testing.T) {
	flow, none := estimate.Value{V: 0.4, SE: 0.01}, estimate.Value{V: math.NaN(), SE: math.NaN()}
	assert.Empty(t, gatesFact(&estimate.Now{FanOn: true, Sure: 1, Flow: flow}))
	assert.Empty(t, gatesFact(&estimate.Now{FanOn: true, Sure: math.NaN(), Flow: none}))
	assert.Empty(t, gatesFact(&estimate.Now{Sure: 0.97, Flow: flow}), "the fan is off")
	sure := gatesFact(&estimate.Now{FanOn: true, Sure: 0.9999, Flow: flow})
	require.Len(t, sure, 1)
	assert.Contains(t, sure[0].More, "99 % sure", "never told as certain")
	unsure := gatesFact(&estimate.Now{FanOn: true, Sure: 0.6, Flow: none})
	require.Len(t, unsure, 1)
	assert.Contains(t, unsure[0].Value, "not sure")
}
