package hardware

import (
	"context"
	"encoding/pem"
	"errors"
	"io"
	"log/slog"
	"net"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"ductward/hardware/mqttin"
	"ductward/internal/clock"
	"ductward/internal/shop"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// published is a shop whose every source is a topic.
func published() *shop.Shop {
	topic := func(name, field, unit string) shop.Source {
		return shop.Source{Kind: shop.SourceMQTT, Topic: name, Field: field, Unit: unit}
	}
	fan, gate, hose := topic("fan", "", ""), topic("gate", "", ""), topic("hose", "", "")
	return &shop.Shop{
		Name: "stairs",
		Collectors: []*shop.Collector{{
			Name: "main",
			Sensors: []*shop.Sensor{
				{Name: "air", Measures: shop.AirTemperature, From: topic("room", "t", "degC")},
				{Name: "humidity", Measures: shop.RelativeHumidity, From: topic("room", "h", "%")},
				{Name: "drop", Measures: shop.FilterDrop, From: topic("drop", "", "Pa")},
			},
			FanSwitch: &fan,
			Gates:     []*shop.Gate{{Name: "saw", Position: &gate}},
			Selectors: []*shop.Selector{{Name: "hose", Ports: []string{"router", "sander"}, Position: &hose}},
		}},
		Outbound: shop.Outbound{MQTT: &shop.MQTT{Broker: "tcp://127.0.0.1:1", ClientID: "wall"}},
	}
}

// standIn is a plant that stands in for the broker.
type standIn struct {
	*wires
	says map[string]string
}

func (s *standIn) Payload(topic string) ([]byte, bool) {
	p, ok := s.says[topic]
	return []byte(p), ok
}

// TestFedTopics: buses that stand in for the broker feed the same decoder, through pollers.
func TestFedTopics(t *testing.T) {
	plant := &standIn{newWires(), map[string]string{"room": `{"t":20,"h":50}`, "drop": "-1e300", "fan": "on", "gate": "shut", "hose": "sander"}}
	b := &bench{t: t, shop: published(), clock: clock.NewVirtual(time.Date(2027, 3, 1, 7, 0, 0, 0, time.UTC))}
	set, err := Open(b.shop, plant, b.clock, slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	b.set = set
	require.Len(t, set.Groups(), 1)
	assert.Equal(t, "mqtt", set.Groups()[0].Bus)
	b.wantValue("main/air", 293.15)
	b.wantValue("main/humidity", 0.5)
	b.wantValue("main/fan", 1)
	b.wantValue("gate/saw", 0)
	b.wantValue("selector/hose", 2)
	assert.Contains(t, b.wantFault("main/drop", Refused).Error(), `mqtt topic "drop"`)
	plant.says["drop"] = "250"
	b.wantValue("main/drop", 250)
	delete(plant.says, "room")
	b.wantFault("main/air", Stale)
	plant.says["room"] = `{"t":21,"h":50}`
	b.wantValue("main/air", 294.15)
	assert.Empty(t, set.Faults())
}

// TestBrokerAway: without the broker the channels are faults once they are stale, and Run ends with its context.
func TestBrokerAway(t *testing.T) {
	clk := clock.NewVirtual(time.Date(2027, 3, 1, 7, 0, 0, 0, time.UTC))
	set, err := Open(published(), nil, clk, slog.New(slog.DiscardHandler))
	require.NoError(t, err)
	assert.Empty(t, set.Pollers())
	assert.Empty(t, set.Faults(), "patience at the start")
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- set.Run(ctx) }()
	clk.Advance(defaultStale + time.Second)
	fs := set.Faults()
	require.Len(t, fs, 6)
	assert.Equal(t, NoBroker, fs[0].Code)
	assert.Equal(t, "main/air", fs[0].Channel)
	cancel()
	assert.ErrorIs(t, <-done, context.Canceled)
	require.NoError(t, set.Close())
}

func TestTopicsWithoutABroker(t *testing.T) {
	s := published()
	s.Outbound.MQTT = nil
	_, err := Open(s, nil, clock.NewSystem(), slog.New(slog.DiscardHandler))
	assert.ErrorContains(t, err, "names no broker")
}

func TestRunWithNothingPublished(t *testing.T) {
	b := newBench(t).open()
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	assert.ErrorIs(t, b.set.Run(ctx), context.Canceled)
}

func TestBrokerSecrets(t *testing.T) {
	dir := t.TempDir()
	secret, ca, bad := filepath.Join(dir, "secret"), filepath.Join(dir, "ca.pem"), filepath.Join(dir, "bad.pem")
	server := httptest.NewUnstartedServer(nil)
	server.Config.ErrorLog = slog.NewLogLogger(slog.NewTextHandler(io.Discard, nil), 0)
	server.StartTLS()
	defer server.Close()
	require.NoError(t, os.WriteFile(secret, []byte("pass word\n"), 0o600))
	require.NoError(t, os.WriteFile(ca, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: server.Certificate().Raw}), 0o600))
	require.NoError(t, os.WriteFile(bad, []byte("no certificate"), 0o600))

	b, err := brokerOf(&shop.MQTT{Broker: "ssl://localhost:8883", ClientID: "wall", Username: "u", PasswordFile: secret, CAFile: ca})
	require.NoError(t, err)
	assert.Equal(t, "pass word", b.Password)
	assert.Equal(t, "wall-in", b.ClientID, "not the name of the connection that publishes")
	require.NotNil(t, b.TLS)
	_, err = brokerOf(&shop.MQTT{PasswordFile: filepath.Join(dir, "none")})
	assert.ErrorIs(t, err, os.ErrNotExist)
	assert.ErrorContains(t, err, "the broker's password")
	_, err = brokerOf(&shop.MQTT{CAFile: bad})
	assert.ErrorContains(t, err, "holds no PEM certificate")
	_, err = brokerOf(&shop.MQTT{CAFile: filepath.Join(dir, "none")})
	assert.ErrorIs(t, err, os.ErrNotExist)
	one, err := brokerOf(&shop.MQTT{})
	require.NoError(t, err)
	two, err := brokerOf(&shop.MQTT{})
	require.NoError(t, err)
	assert.NotEqual(t, one.ClientID, two.ClientID)
}

func TestTroubleCode(t *testing.T) {
	for err, want := range map[error]Code{
		mqttin.ErrOffline: NoBroker, mqttin.ErrSilent: Stale,
		&mqttin.Refusal{Err: mqttin.ErrOld}: Stale, &mqttin.Refusal{Err: mqttin.ErrAge}: Stale,
		&mqttin.Refusal{Err: mqttin.ErrTooLong}: Refused, errors.Join(&mqttin.Refusal{Err: net.ErrClosed}): Refused,
	} {
		assert.Equal(t, want, troubleCode(err), "%v", err)
	}
}

// TestEveryCodeHasARemedy: a fault without advice helps nobody.
func TestEveryCodeHasARemedy(t *testing.T) {
	for _, c := range []Code{NotAnswering, BusLocked, NoBus, NoPin, WrongChip, BadCRC, Busy, ChipError, LatchedUp, Saturated, LoopFault, Stuck, LoopFault, Chattering, Between, BothEnds, NoPort, TwoPorts, NoBroker, Stale, Refused} {
		assert.NotEmpty(t, remedies[c], "%s", c)
	}
	assert.Len(t, remedies, 20)
}

// TestEveryQuantityHasLimits: a quantity without them would refuse every value.
func TestEveryQuantityHasLimits(t *testing.T) {
	for q := shop.FilterDrop; q <= shop.BinWeight; q++ {
		w, ok := limits[q]
		require.True(t, ok, "quantity %d", q)
		assert.Less(t, w.Low, w.High)
	}
}
