package daemon

import (
	"errors"
	"html"
	"io"
	"math"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c"

	"ductward/hardware"
	"ductward/hardware/rig"
)

// page returns what the dashboard shows at a path.
func (r *running) page(path string) string {
	r.t.Helper()
	answer, err := http.Get("http://" + r.address + path)
	require.NoError(r.t, err)
	defer func() { require.NoError(r.t, answer.Body.Close()) }()
	text, err := io.ReadAll(answer.Body)
	require.NoError(r.t, err)
	return html.UnescapeString(string(text))
}

// heldWires are wires whose bus can be made to hang, as one does that a part holds down: what is asked of it comes back only
// when it is let go.
type heldWires struct {
	*rig.Demo
	bus *hardware.Bounded

	mu   sync.Mutex
	hold chan struct{} // nil: the bus works
}

// newHeldWires wires the bus of a demonstration, which ends with the test.
func newHeldWires(t *testing.T, d *rig.Demo) *heldWires {
	t.Helper()
	below, err := d.I2C("1")
	require.NoError(t, err)
	w := &heldWires{Demo: d}
	w.bus = hardware.NewBounded(&heldBus{below, w}, 20*time.Millisecond)
	t.Cleanup(func() { require.NoError(t, w.bus.Close()) })
	return w
}

func (w *heldWires) I2C(string) (i2c.Bus, error) { return w.bus, nil }

func (w *heldWires) hang() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.hold = make(chan struct{})
	return nil
}

func (w *heldWires) letGo() {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.hold != nil {
		close(w.hold)
		w.hold = nil
	}
}

type heldBus struct {
	i2c.Bus
	by *heldWires
}

func (h *heldBus) Tx(addr uint16, w, r []byte) error {
	h.by.mu.Lock()
	hold := h.by.hold
	h.by.mu.Unlock()
	if hold != nil {
		<-hold
		return errors.New("it was held")
	}
	return h.Bus.Tx(addr, w, r)
}

// wireFault is what goes wrong at once, and what is to be told of which channel.
type wireFault struct {
	name string
	do   []func() error
	want map[string]hardware.Code
}

// Whatever goes wrong on the wires is named on the dashboard, nothing is stored of it, and all comes back by itself.
func TestFaultsOnTheWiresAreNamedAndHeal(t *testing.T) {
	plants, cfg := liveDemo(t)
	wires := newHeldWires(t, plants)
	cfg.Buses = wires
	seen := spyOn(t, &cfg)
	r := start(t, cfg)
	const drop, static, pitot, gate, topic = "main/filter drop", "main/trunk static", "main/trunk velocity", "gate/crosscut gate", "gate/mortiser gate"
	all := []string{drop, static, pitot, gate, topic}
	sound := func() bool {
		return !slices.ContainsFunc(all, func(c string) bool { return seen.have(c) == 0 }) && strings.Contains(r.page("/sensors"), "sensors are sound")
	}
	eventually(t, "all sensors are sound", sound)
	on := func(fail func(string) error, channel string) func() error {
		return func() error { return fail(channel) }
	}
	each := func(c hardware.Code) map[string]hardware.Code {
		return map[string]hardware.Code{drop: c, static: c, pitot: c}
	}
	unplugged := each(hardware.NotAnswering)
	unplugged[topic] = hardware.Stale
	for _, fault := range []wireFault{
		{"each its own", []func() error{on(plants.LatchUp, drop), on(plants.Saturate, static), on(plants.CorruptCRC, pitot), on(plants.Chatter, gate)},
			map[string]hardware.Code{drop: hardware.LatchedUp, static: hardware.Saturated, pitot: hardware.BadCRC, gate: hardware.Chattering}},
		{"unplugged", []func() error{on(plants.Unplug, drop), on(plants.Unplug, static), on(plants.Unplug, pitot), on(plants.Unplug, topic)}, unplugged},
		{"frozen", []func() error{on(plants.Stick, drop), on(plants.Stick, static), on(plants.Stick, pitot)}, each(hardware.Stuck)},
		{"the bus held down", []func() error{wires.hang}, each(hardware.BusLocked)},
	} {
		for _, do := range fault.do {
			require.NoError(t, do(), fault.name)
		}
		fault.isNamed(t, r, seen)
		for _, c := range all {
			require.NoError(t, plants.Mend(c))
		}
		wires.letGo()
		before := map[string]int{}
		for c := range fault.want {
			before[c] = seen.have(c)
		}
		eventually(t, "all sensors are sound after "+fault.name, sound)
		for c, n := range before {
			eventually(t, c+" is read again", func() bool { return seen.have(c) > n })
		}
	}
	require.NoError(t, r.end())
	http.DefaultClient.CloseIdleConnections()
	for _, x := range storedReadings(t, reopened(t, cfg.DataDir), drop, static, pitot) {
		require.False(t, math.IsNaN(x.Value) || math.Abs(x.Value) > 3500, "%s: %g is no pressure of this plant", x.Channel, x.Value)
	}
}

// isNamed waits until the dashboard names the fault of each channel and what to do, and sees that none of them has a value
// while a channel on other wires goes on.
func (f wireFault) isNamed(t *testing.T, r *running, seen *spy) {
	t.Helper()
	eventually(t, f.name, func() bool {
		for channel, code := range f.want {
			if !strings.HasPrefix(sensorOf(t, r, channel).fault, string(code)) {
				return false
			}
		}
		return true
	})
	shown, before := r.page("/sensors"), map[string]int{}
	for channel, code := range f.want {
		assert.Contains(t, shown, string(code)+", ", "%s: %s", f.name, channel)
		assert.Contains(t, shown, code.Remedy())
		before[channel] = seen.have(channel)
	}
	neighbour := seen.have("main/air")
	eventually(t, "the others go on", func() bool { return seen.have("main/air") > neighbour })
	for channel, n := range before {
		if strings.HasPrefix(channel, "main/") { // of a switch it is recorded from time to time that nobody knows
			assert.Equal(t, n, seen.have(channel), "%s: %s has no value", f.name, channel)
		}
	}
}
