package live

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/gpio"

	"ductward/hardware"
	"ductward/internal/shop"
)

// TestASupplyThatIsOffAtFirst is switched on before anything is asked, and what loses it comes back.
func TestASupplyThatIsOffAtFirst(t *testing.T) {
	b := newBenchOf(t, Unknown, func(s *shop.Shop) {
		s.Buses = []*shop.Bus{{Bus: s.Collectors[0].Sensor("filter drop").From.Bus, Power: "GPIO26", ActiveLow: true, OffFor: time.Second, AtMostEvery: time.Hour}}
	})
	b.pass(5 * time.Second)
	assert.Equal(t, Good, b.row(drop).Health.State)

	pin, err := b.rig.Output("GPIO26")
	require.NoError(t, err)
	require.NoError(t, pin.Out(gpio.High)) // somebody else's doing, or a regulator that has shut down
	b.pass(5 * time.Second)
	assert.Equal(t, string(hardware.NotAnswering), b.row(drop).Health.Word)
	b.pass(60 * time.Second)
	assert.Equal(t, Good, b.row(drop).Health.State, "it was switched off and on")
}
