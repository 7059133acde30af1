package hardware

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestHostBuses: on any board, also on one without wires, the host opens, and what is not there is an error that says
// what was sought.
func TestHostBuses(t *testing.T) {
	h, err := HostBuses()
	require.NoError(t, err)
	_, err = h.I2C("no such bus")
	assert.ErrorContains(t, err, `i2c bus "no such bus"`)
	_, err = h.I2C("4095")
	assert.ErrorContains(t, err, `i2c bus "4095"`)
	_, err = h.Pin("no such pin")
	assert.ErrorContains(t, err, `pin "no such pin"`)
	require.NoError(t, h.Close())
}
