package daemon

import (
	"context"
	"encoding/json"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
	"ductward/internal/shop"
)

const root = "ductward/quernstone-sash-and-stair"

func publishingShop(b *realBroker) *shop.Shop {
	s := smallShop()
	s.Outbound.MQTT = &shop.MQTT{Broker: b.url(), ClientID: "quernstone"}
	return s
}

func TestStateReadingsAndAlarmsArePublished(t *testing.T) {
	broker := startBroker(t)
	outside := broker.listen()
	b := newBoard()
	b.set("t/fan", 1)
	b.set("t/trunk", -812.5)
	cfg := smallConfig(t, b)
	cfg.Shop = publishingShop(broker)
	r := start(t, cfg)
	eventually(t, "birth", func() bool { return outside.on(root+"/status") == "online" })
	eventually(t, "a switch", func() bool { return strings.Contains(outside.on(root+"/main/fan"), `"vb":true`) })
	eventually(t, "a sensor", func() bool { return outside.on(root+"/main/trunk") != "" })
	var pack []map[string]any
	require.NoError(t, json.Unmarshal([]byte(outside.on(root+"/main/trunk")), &pack))
	assert.Equal(t, "main/trunk", pack[0]["n"])
	assert.Equal(t, "Pa", pack[0]["u"])
	assert.InDelta(t, -812.5, pack[0]["v"], 0)
	assert.InDelta(t, float64(monday.Unix()), pack[0]["t"], 3600)

	b.unplug("t/filter")
	eventually(t, "an alarm", func() bool { return outside.alarm() != "" })
	late := broker.listen() // who comes later finds it
	eventually(t, "a retained alarm", func() bool { return late.alarm() != "" })
	var a alarm.Alarm
	require.NoError(t, json.Unmarshal([]byte(late.alarm()), &a))
	assert.Equal(t, lostFilter, a.Cause)
	assert.Equal(t, alarm.ActiveUnacknowledged, a.State)
	assert.Empty(t, late.on(root+"/main/fan"), "a reading is not kept: it would look fresh")

	require.NoError(t, r.end())
	eventually(t, "goodbye", func() bool { return outside.on(root+"/status") == "offline" })
}

func TestTheBrokerSaysThatADaemonHasDied(t *testing.T) {
	broker := startBroker(t)
	outside := broker.listen()
	// The daemon's way to the broker goes through a cable that the test can cut.
	cable := newCable(t, "127.0.0.1:0", "127.0.0.1:"+broker.port)
	cfg := smallConfig(t, newBoard())
	cfg.Shop = publishingShop(broker)
	cfg.Shop.Outbound.MQTT.Broker = "tcp://" + cable.address()
	r := start(t, cfg)
	eventually(t, "birth", func() bool { return outside.on(root+"/status") == "online" })
	cable.cut()
	eventually(t, "the last will", func() bool { return outside.on(root+"/status") == "offline" })
	require.NoError(t, r.end())
}

func TestABrokerThatDiesForAWhileStopsNothing(t *testing.T) {
	broker := startBroker(t)
	b := newBoard()
	cfg := smallConfig(t, b)
	cfg.Shop = publishingShop(broker)
	seen := spyOn(t, &cfg)
	r := start(t, cfg)
	outside := broker.listen()
	eventually(t, "birth", func() bool { return outside.on(root+"/status") == "online" })
	broker.stop()
	b.unplug("t/filter")
	eventually(t, "an alarm while the broker is away", func() bool {
		return seen.states(lostFilter)[alarm.ActiveUnacknowledged] == 1
	})
	before := seen.have("main/trunk")
	eventually(t, "readings while the broker is away", func() bool { return seen.have("main/trunk") > before+10 })

	broker.start()
	outside = broker.listen()
	eventually(t, "birth again", func() bool { return outside.on(root+"/status") == "online" })
	eventually(t, "the alarm after all", func() bool {
		return strings.Contains(outside.alarm(), string(alarm.ActiveUnacknowledged))
	})
	require.NoError(t, r.end())
	assert.LessOrEqual(t, strings.Count(r.log.String(), "connection to the broker failed"), 2, "told seldom")
}

func TestABrokerThatNeverComesDoesNotHoldUpTheEnd(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0") // takes connections and says nothing
	require.NoError(t, err)
	defer l.Close()
	cfg := smallConfig(t, newBoard())
	cfg.Shop = smallShop()
	cfg.Shop.Outbound.MQTT = &shop.MQTT{Broker: "tcp://" + l.Addr().String()}
	seen := spyOn(t, &cfg)
	r := start(t, cfg)
	eventually(t, "readings", func() bool { return seen.have("main/trunk") > 5 })
	began := time.Now()
	require.NoError(t, r.end())
	assert.Less(t, time.Since(began), 10*time.Second)
}

func TestABrokerThatIsNotThereIsAFaultOfItsChannels(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	require.NoError(t, l.Close()) // a port at which nobody listens
	cfg := smallConfig(t, nil)
	cfg.Buses = nil
	cfg.Shop = smallShop()
	cfg.Shop.Outbound.MQTT = &shop.MQTT{Broker: "tcp://" + l.Addr().String()}
	seen := spyOn(t, &cfg)
	r := start(t, cfg)
	eventually(t, "the alarm", func() bool { return seen.states(lostFilter)[alarm.ActiveUnacknowledged] == 1 })
	assert.Contains(t, sensorOf(t, r, "main/filter drop").fault, "no-broker")
	require.NoError(t, r.end())
}

// Readings that others publish go the whole way: an outside client, a real broker, the store and the watch.
func TestReadingsOfOthersArriveThroughARealBroker(t *testing.T) {
	broker := startBroker(t)
	cfg := smallConfig(t, nil)
	cfg.Buses = nil
	cfg.Shop = publishingShop(broker)
	for _, s := range cfg.Shop.Collectors[0].Sensors {
		s.From.Stale = time.Hour // by a clock that runs fast
	}
	seen := spyOn(t, &cfg)
	r := start(t, cfg)
	eventually(t, "the trunk's pressure", func() bool {
		broker.publish("t/trunk", "-731.25")
		return seen.have("main/trunk") > 0
	})
	broker.publish("t/fan", "1")
	broker.publish("t/saw", "open")
	broker.publish("t/filter", `[{"n":"dp","u":"Pa","v":604.5}]`)
	eventually(t, "the filter's drop", func() bool { return seen.have("main/filter drop") > 0 })
	eventually(t, "the gate", func() bool { return seen.have("gate/saw gate") > 0 })
	eventually(t, "the watch knows", func() bool {
		snap := view{r.d.open.fold}.Snapshot()
		if snap == nil {
			return false
		}
		c := snap.Collectors[0]
		for _, s := range c.Sensors {
			if s.Channel == "main/trunk" {
				return c.Now.FanOn && s.Value == -731.25
			}
		}
		return false
	})
	require.NoError(t, r.end())
	last := map[string]float64{}
	for _, x := range storedReadings(t, reopened(t, cfg.DataDir)) {
		last[x.Channel] = x.Value
	}
	assert.InDelta(t, -731.25, last["main/trunk"], 0)
	assert.InDelta(t, 604.5, last["main/filter drop"], 0)
	assert.InDelta(t, 1, last["main/fan"], 0)
	assert.InDelta(t, 1, last["gate/saw gate"], 0)
}

func TestAPublisherThatFallsSilentIsAFault(t *testing.T) {
	broker := startBroker(t)
	cfg := smallConfig(t, nil)
	cfg.Buses = nil
	cfg.Shop = publishingShop(broker)
	seen := spyOn(t, &cfg)
	r := start(t, cfg)
	eventually(t, "the filter's drop", func() bool {
		broker.publish("t/filter", "604.5")
		return seen.have("main/filter drop") > 0
	})
	eventually(t, "the alarm", func() bool { return seen.states(lostFilter)[alarm.ActiveUnacknowledged] == 1 })
	eventually(t, "it clears", func() bool {
		broker.publish("t/filter", "604.5")
		return seen.states(lostFilter)[alarm.ClearedUnacknowledged] == 1
	})
	require.NoError(t, r.end())
}

func TestAPasswordStaysOutOfTheLog(t *testing.T) {
	broker := startBroker(t)
	file := filepath.Join(t.TempDir(), "password")
	require.NoError(t, os.WriteFile(file, []byte("plane-iron-4711\n"), 0o600))
	cfg := smallConfig(t, newBoard())
	cfg.Shop = publishingShop(broker)
	cfg.Shop.Outbound.MQTT.Username = "quernstone"
	cfg.Shop.Outbound.MQTT.PasswordFile = file
	r := start(t, cfg)
	outside := broker.listen()
	eventually(t, "birth", func() bool { return outside.on(root+"/status") == "online" })
	require.Equal(t, "plane-iron-4711", r.d.open.fold.out.broker.password)
	require.NoError(t, r.end())
	assert.NotContains(t, r.log.String(), "4711")

	cfg.Shop.Outbound.MQTT.PasswordFile = file + ".missing"
	d, err := New(cfg)
	require.NoError(t, err)
	require.ErrorContains(t, d.Run(context.Background()), "password")
}
