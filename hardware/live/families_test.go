package live

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/hardware/scan"
	"ductward/internal/shop"
)

// onBus is a source on bus 1.
func onBus(chip string, address, mux uint16, port int, span float64) shop.Source {
	return shop.Source{Kind: shop.SourceI2C, Chip: chip, Bus: "1", Address: address, Mux: mux, Port: port, Span: span}
}

// everyFamily puts a part of every family at the collector's inlet, several of one address behind two multiplexers, with
// every second one's tubes the other way round.
func everyFamily(s *shop.Shop) {
	c := s.Collectors[0]
	c.Sensors = nil
	for i, p := range []struct {
		name string
		from shop.Source
	}{
		{"abp2", onBus("abp2", 0x38, 0, 0, 4000)},
		{"abp2 one", onBus("abp2", 0x28, 0x70, 0, 4000)},
		{"abp2 two", onBus("abp2", 0x28, 0x70, 7, 4000)},
		{"hsc", onBus("hsc", 0x28, 0x71, 0, 4000)},
		{"dlh", onBus("dlh", 0x29, 0, 0, 4000)},
		{"dlh one", onBus("dlh", 0x29, 0x71, 3, 4000)},
	} {
		p.from.Swapped = i%2 == 1
		c.Sensors = append(c.Sensors, &shop.Sensor{Name: p.name, Measures: shop.StaticPressure, Run: "inlet", From: p.from})
	}
	c.Sensors[4].From.Bus = "/dev/i2c-2" // the one that has the address of another behind a multiplexer
	for _, p := range []struct {
		name string
		from shop.Source
	}{
		{"sdp8xx", onBus("sdp8xx", 0x26, 0, 0, 500)},
		{"sdp3x", onBus("sdp3x", 0x21, 0, 0, 500)},
		{"adp810", onBus("adp810", 0x25, 0x71, 3, 500)},
	} {
		c.Sensors = append(c.Sensors, &shop.Sensor{Name: p.name, Measures: shop.VelocityPressure, Run: "inlet", Diameter: 0.2, From: p.from})
	}
}

// TestEveryFamilyReadsTheSame: parts of one kind of tap agree to what their gains differ by, 3 % (s.d.), whatever they
// are, wherever they hang.
func TestEveryFamilyReadsTheSame(t *testing.T) {
	b := newBenchOf(t, Unknown, everyFamily)
	b.pass(20 * time.Second)
	inlet, pitot := b.row("main/abp2").Mean, b.row("main/sdp8xx").Mean
	assert.Less(t, inlet, -500.0)
	assert.Greater(t, pitot, 50.0)
	for _, r := range b.watch.Rows() {
		if r.Sensor == nil {
			continue
		}
		require.Equal(t, Good, r.Health.State, "%s: %s", r.Channel, r.Health.Text)
		if r.Sensor.Measures == shop.StaticPressure {
			assert.InEpsilon(t, inlet, r.Mean, 0.15, r.Channel)
		} else {
			assert.InEpsilon(t, pitot, r.Mean, 0.15, r.Channel)
		}
	}
	assert.Equal(t, `i2c bus "1" mux 0x71 port 0 address 0x28`, b.row("main/hsc").Where)
}

// TestScanFindsWhatIsBehindMultiplexers.
func TestScanFindsWhatIsBehindMultiplexers(t *testing.T) {
	b := newBenchOf(t, Unknown, everyFamily)
	bus, err := b.rig.I2C("1")
	require.NoError(t, err)
	var got []string
	for _, f := range scan.Bus(bus, "1", b.clock.Sleep) {
		got = append(got, f.Place()+" "+f.Chip)
	}
	assert.Equal(t, []string{"0x21 sdp3x", "0x26 sdp8xx", "0x38 abp2", "mux 0x70 port 0 0x28 abp2", "mux 0x70 port 7 0x28 abp2",
		"mux 0x71 port 0 0x28 hsc", "mux 0x71 port 3 0x25 adp810", "mux 0x71 port 3 0x29 dlh"}, got)
}

// TestEachOfThemUnpluggedAndBack: a fault that names the place, the neighbours go on, and it comes back by itself.
func TestEachOfThemUnpluggedAndBack(t *testing.T) {
	b := newBenchOf(t, Unknown, everyFamily)
	b.pass(2 * time.Second)
	for _, name := range []string{"main/hsc", "main/dlh", "main/adp810", "main/sdp3x", "main/abp2 two"} {
		t.Run(name, func(t *testing.T) {
			require.NoError(t, b.rig.Unplug(name))
			b.pass(3 * time.Second)
			assert.Equal(t, Faulty, b.row(name).Health.State)
			assert.Equal(t, Good, b.row("main/abp2 one").Health.State)
			require.NoError(t, b.rig.Mend(name))
			b.pass(35 * time.Second)
			assert.Equal(t, Good, b.row(name).Health.State, b.row(name).Health.Text)
			require.NoError(t, b.rig.Saturate(name))
			b.pass(3 * time.Second)
			assert.Equal(t, "saturated", b.row(name).Health.Word)
			require.NoError(t, b.rig.Mend(name))
			b.pass(3 * time.Second)
			assert.Equal(t, Good, b.row(name).Health.State)
		})
	}
}
