package live

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const overModbus = `    sensors:
      - {sensor: filter drop, measures: filter drop, from: {modbus: "rtu:///dev/ttyUSB0", station: 3, input_register: 0, as: int16, factor: 0.1, unit: Pa}}
      - {sensor: trunk static, measures: static pressure, at: inlet, from: {modbus: "rtu:///dev/ttyUSB0", station: 4, holding_register: 12, as: float32, words: low first, unit: mbar}}
      - {sensor: power, measures: fan power, from: {modbus: "tcp://192.168.1.40:502", station: 1, holding_register: 40, as: uint16, factor: 0.01, unit: kW}}
    fan_running: {modbus: "tcp://192.168.1.40:502", station: 1, discrete_input: 3}
`

func TestModbus(t *testing.T) {
	b := newBenchOf(t, Unknown, rewireWith(t, overModbus))
	b.pass(15 * time.Second)
	for _, r := range b.watch.Rows() {
		require.Equal(t, Good, r.Health.State, "%s: %s", r.Channel, r.Health.Text)
	}
	assert.Equal(t, Running, b.watch.Fan("main"))
	assert.Less(t, b.row(static).Mean, -500.0, "Pa")
	assert.Greater(t, b.row(drop).Mean, 50.0, "Pa")
	assert.InDelta(t, 3000, b.row("main/power").Mean, 1500, "W")
	assert.Equal(t, "rtu:///dev/ttyUSB0 station 4 holding register 12", b.row(static).Where)
	assert.Equal(t, "true", b.row("main/fan").Raw)
	b.rig.SetFans(false)
	b.clock.Advance(time.Minute)
	b.pass(time.Second)
	assert.Equal(t, Standing, b.watch.Fan("main"))
}

// TestModbusFaults: silence, damage, and back by itself; a station's neighbour goes on.
func TestModbusFaults(t *testing.T) {
	b := newBenchOf(t, Unknown, rewireWith(t, overModbus))
	require.NoError(t, b.rig.Unplug(static))
	require.NoError(t, b.rig.CorruptCRC("main/power"))
	require.NoError(t, b.rig.Unplug("main/fan"))
	b.pass(3 * time.Second)
	assert.Equal(t, "not-answering", b.row(static).Health.Word)
	assert.Equal(t, "bad-crc", b.row("main/power").Health.Word)
	assert.Equal(t, "not-answering", b.row("main/fan").Health.Word)
	assert.Equal(t, Unknown, b.watch.Fan("main"))
	assert.Equal(t, Good, b.row(drop).Health.State)
	for _, c := range []string{static, "main/power", "main/fan"} {
		require.NoError(t, b.rig.Mend(c))
	}
	b.pass(40 * time.Second)
	for _, r := range b.watch.Rows() {
		assert.Equal(t, Good, r.Health.State, "%s: %s", r.Channel, r.Health.Text)
	}
}
