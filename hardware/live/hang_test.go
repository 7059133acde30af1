package live

import (
	"log/slog"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"

	"ductward/hardware"
	"ductward/hardware/rig"
	"ductward/internal/clock"
	"ductward/internal/shop"
)

// tarPit is wires whose bus 9 lets every transfer hang until it is let go.
type tarPit struct {
	*rig.Still
	entered, letGo chan struct{}
}

func (t *tarPit) I2C(name string) (i2c.Bus, error) {
	if name == "9" {
		return t, nil
	}
	return t.Still.I2C(name)
}

func (t *tarPit) String() string                  { return "tar pit" }
func (t *tarPit) SetSpeed(physic.Frequency) error { return nil }

func (t *tarPit) Tx(uint16, []byte, []byte) error {
	t.entered <- struct{}{}
	<-t.letGo
	return nil
}

// TestABusThatHangsIsToldAndLeftBehind: the others go on, and nobody waits for it at the end.
func TestABusThatHangsIsToldAndLeftBehind(t *testing.T) {
	s, problems := shop.Parse("shop.yaml", rig.DemoShop())
	require.NoError(t, shop.Errors(problems))
	s.Outbound = shop.Outbound{}
	clk := clock.NewVirtual(time.Date(2027, 3, 1, 7, 0, 0, 0, time.UTC))
	r, err := rig.NewStill(s, clk, seed)
	require.NoError(t, err)
	s.Collectors[0].Sensor("trunk static").From.Bus = "9"
	pit := &tarPit{Still: r, entered: make(chan struct{}, 1), letGo: make(chan struct{})}
	w, err := Open(s, pit, clk, Unknown, slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	w.patience = time.Millisecond
	w.beat()
	<-pit.entered
	w.patience = patience
	for range 8 {
		clk.Advance(Beat)
		w.beat()
	}
	rows := map[string]Row{}
	for _, x := range w.Rows() {
		rows[x.Channel] = x
	}
	hung := rows[static]
	assert.Equal(t, Faulty, hung.Health.State)
	assert.Equal(t, string(hardware.BusLocked), hung.Health.Word)
	assert.Contains(t, hung.Health.Text, "left behind")
	assert.Zero(t, hung.Samples)
	assert.GreaterOrEqual(t, rows[drop].Samples, 4, "on another bus; on a busy machine the first looks may have found nothing")
	w.patience = time.Millisecond
	require.NoError(t, w.Close(), "it is not waited for")
	read := w.busy["i2c 9"]
	close(pit.letGo)
	<-read
}
