package live

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/hardware/rig"
	"ductward/hardware/scan"
	"ductward/internal/shop"
)

// wired is what the demonstration's sensors become: transmitters on a converter, a part for the room's air behind a
// multiplexer, and a clamp on the fan's cable.
const wired = `    sensors:
      - {sensor: filter drop, measures: filter drop, from: {i2c: 1, chip: ads1115, address: 0x49, input: 0, signal: 4-20 mA, burden: 150 ohm, low: 0 Pa, high: 2.5 kPa}}
      - {sensor: trunk static, measures: static pressure, at: inlet, from: {i2c: 1, chip: ads1115, address: 0x49, input: 3, signal: 0-10 V, divider: 3, low: 0 Pa, high: -5 kPa}}
      - {sensor: power, measures: fan power, from: {i2c: 1, chip: ads1115, address: 0x49, input: 1, signal: 4-20 mA, burden: 100 ohm, low: 0 kW, high: 7.5 kW}}
      - {sensor: air, measures: air temperature, from: {i2c: 1, mux: 0x72, port: 2, chip: bme280, address: 0x76}}
      - {sensor: barometer, measures: barometric pressure, from: {i2c: 1, mux: 0x72, port: 2, chip: bme280, address: 0x76}}
      - {sensor: humidity, measures: relative humidity, from: {i2c: 1, mux: 0x72, port: 2, chip: bme280, address: 0x76}}
    fan_running: {i2c: 1, chip: ads1115, address: 0x49, input: 2, signal: 0-5 V, on_above: 10 %}
`

// rewire parses the demonstration's shop with those sensors.
func rewire(t *testing.T) func(*shop.Shop) { return rewireWith(t, wired) }

func rewireWith(t *testing.T, wired string) func(*shop.Shop) {
	t.Helper()
	text := string(rig.DemoShop())
	from := strings.Index(text, "    sensors:\n")
	require.Positive(t, from)
	to := from + strings.Index(text[from:], "    fan_running:")
	end := to + strings.Index(text[to:], "\n") + 1
	s, problems := shop.Parse("shop.yaml", []byte(text[:from]+wired+text[end:]))
	require.NoError(t, shop.Errors(problems))
	return func(old *shop.Shop) { s.Outbound = old.Outbound; *old = *s }
}

func TestTransmittersAndTheRoom(t *testing.T) {
	b := newBenchOf(t, Unknown, rewire(t))
	b.pass(15 * time.Second)
	for _, r := range b.watch.Rows() {
		assert.Equal(t, Good, r.Health.State, "%s: %s", r.Channel, r.Health.Text)
	}
	assert.Equal(t, Running, b.watch.Fan("main"))
	assert.Less(t, b.row(static).Mean, -500.0)
	assert.Greater(t, b.row(drop).Mean, 50.0)
	assert.InDelta(t, 3000, b.row("main/power").Mean, 1500, "W")
	assert.InDelta(t, 291.15, b.row("main/air").Mean, 0.6, "K, the site's 18 °C")
	assert.InDelta(t, 99900, b.row("main/barometer").Mean, 300, "Pa, at 120 m")
	assert.InDelta(t, 0.5, b.row("main/humidity").Mean, 0.03)
	assert.Equal(t, `i2c bus "1" mux 0x72 port 2 address 0x76`, b.row("main/air").Where)

	b.rig.SetFans(false)
	b.clock.Advance(time.Minute)
	b.pass(3 * time.Second)
	assert.Equal(t, Standing, b.watch.Fan("main"))
}

// TestALoopThatIsCut is a fault and no pressure of nothing, and comes back by itself; a voltage that is cut reads nothing,
// which is all that a voltage can tell.
func TestALoopThatIsCut(t *testing.T) {
	b := newBenchOf(t, Unknown, rewire(t))
	require.NoError(t, b.rig.Unplug(drop))
	require.NoError(t, b.rig.Unplug(static))
	b.pass(6 * time.Second)
	assert.Equal(t, "loop-fault", b.row(drop).Health.Word)
	assert.Contains(t, b.row(drop).Health.Text, "below 3.6 mA")
	assert.Equal(t, "no pressure", b.row(static).Health.Word)
	require.NoError(t, b.rig.Mend(drop))
	require.NoError(t, b.rig.Mend(static))
	require.NoError(t, b.rig.Saturate(static))
	b.pass(6 * time.Second)
	assert.Equal(t, Good, b.row(drop).Health.State)
	assert.Equal(t, "saturated", b.row(static).Health.Word)
}

// TestTheRoomsPartUnpluggedAndBack: all its channels, and it measures humidity again although it has forgotten its settings.
func TestTheRoomsPartUnpluggedAndBack(t *testing.T) {
	b := newBenchOf(t, Unknown, rewire(t))
	b.pass(2 * time.Second)
	before := b.row("main/humidity").Value
	require.NoError(t, b.rig.Unplug("main/air"))
	b.pass(2 * time.Second)
	for _, c := range []string{"main/air", "main/barometer", "main/humidity"} {
		assert.Equal(t, "not-answering", b.row(c).Health.Word, c)
	}
	require.NoError(t, b.rig.Mend("main/air"))
	b.pass(40 * time.Second)
	assert.InDelta(t, before, b.row("main/humidity").Value, 0.02)
}

func TestScanFindsThemToo(t *testing.T) {
	b := newBenchOf(t, Unknown, rewire(t))
	bus, err := b.rig.I2C("1")
	require.NoError(t, err)
	var got []string
	for _, f := range scan.Bus(bus, "1", b.clock.Sleep) {
		got = append(got, f.Place()+" "+f.Chip)
	}
	assert.Equal(t, []string{"0x49 ads1115", "mux 0x72 port 2 0x76 bme280"}, got)
}
