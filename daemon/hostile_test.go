package daemon

import (
	"fmt"
	"io"
	"math"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
	"ductward/internal/shop"
)

// publisher is an outside client that can send any bytes.
func (b *realBroker) publisher() mqtt.Client {
	b.t.Helper()
	c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker(b.url()).SetClientID("outside"))
	done := c.Connect()
	require.True(b.t, done.WaitTimeout(5*time.Second))
	require.NoError(b.t, done.Error())
	b.t.Cleanup(func() { c.Disconnect(100) })
	return c
}

func send(t *testing.T, c mqtt.Client, topic, payload string) {
	t.Helper()
	done := c.Publish(topic, 1, false, payload)
	require.True(t, done.WaitTimeout(5*time.Second))
	require.NoError(t, done.Error())
}

// hostile are payloads that are no pressure, with the words of the fault that is told.
func hostile(now time.Time) []struct{ payload, told string } {
	senml := func(at time.Time) string { return fmt.Sprintf(`[{"n":"p","u":"Pa","v":-731.25,"t":%d}]`, at.Unix()) }
	return []struct{ payload, told string }{
		{"", "the payload is empty"},
		{strings.Repeat("9", 100_000), "over 4096 bytes"},
		{"NaN", "is not a number"},
		{"Infinity", "is not a number"},
		{"-inf", "is not a number"},
		{"1e300", "outside"},
		{"-1e999", "not a number that can be held"},
		{"\x00\xff\xfe", "is not a number"},
		{"<script>alert(1)</script>", "is not a number"},
		{strings.Repeat("[", 4000), "no valid JSON"},
		{`{"v":-731.25}`, "name the key by field"},
		{`[{"n":"p","v":1e308,"bv":1e308}]`, "more than a number can hold"},
		{`[{"n":"p","u":"K","v":293}]`, "K"},
		{senml(now.Add(-24 * time.Hour)), "older than stale: allows"}, // a sender whose clock is a day slow
	}
}

// What others publish is a value, or a fault that the dashboard names, and nothing between; a good value ends the fault.
func TestHostilePayloadsAreNamedAndHeal(t *testing.T) {
	broker := startBroker(t)
	bad := hostile(monday)
	cfg := smallConfig(t, nil)
	cfg.Buses = nil
	cfg.Shop = publishingShop(broker)
	c := cfg.Shop.Collectors[0]
	c.Sensors, c.FanSwitch, c.Gates = nil, nil, nil
	for i := range bad {
		from := fromTopic(fmt.Sprintf("t/%d", i), "Pa")
		from.Stale = time.Hour // by a clock that runs fast
		c.Sensors = append(c.Sensors, &shop.Sensor{Name: fmt.Sprintf("tap %d", i), Measures: shop.StaticPressure, From: from, Diameter: math.NaN()})
	}
	r := start(t, cfg)
	outside := broker.publisher()
	publish := func(payload func(i int) string) {
		for i := range bad {
			send(t, outside, fmt.Sprintf("t/%d", i), payload(i))
		}
	}
	well := func() bool {
		publish(func(int) string { return "-731.25" })
		return strings.Contains(r.page("/sensors"), fmt.Sprintf("All %d sensors are sound", len(bad)))
	}
	eventually(t, "all sensors are sound", well)
	publish(func(i int) string { return bad[i].payload })
	for i, x := range bad {
		eventually(t, fmt.Sprintf("%.40q is told", x.payload), func() bool {
			return strings.Contains(sensorOf(t, r, fmt.Sprintf("main/tap %d", i)).fault, x.told)
		})
	}
	answer, err := http.Get("http://" + r.address + "/sensors")
	require.NoError(t, err)
	shown, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	assert.Contains(t, string(shown), "No sensor can be trusted")
	assert.Contains(t, string(shown), "refused, mqtt topic")
	assert.NotContains(t, string(shown), "<script>alert")
	eventually(t, "all sensors are sound again", well)
	// A clock that is ahead is not believed: the value counts from when it came.
	send(t, outside, "t/0", fmt.Sprintf(`[{"n":"p","u":"Pa","v":-500,"t":%d}]`, monday.AddDate(1, 0, 0).Unix()))
	eventually(t, "the value of a sender whose clock is ahead", func() bool { return r.d.open.store.Latest()["main/tap 0"].Value == -500 })
	require.NoError(t, r.end())
	http.DefaultClient.CloseIdleConnections()
	for _, x := range storedReadings(t, reopened(t, cfg.DataDir)) {
		assert.Contains(t, []float64{-731.25, -500}, x.Value)
		assert.WithinDuration(t, monday, x.Time, 2*time.Hour)
	}
}

// A broker is dead for a day: the sensors that come through it are named, what could not be published waits, nothing is
// stored of that day, and all is well when it is back.
func TestABrokerThatIsDeadForADay(t *testing.T) {
	broker := startBroker(t)
	cfg := smallConfig(t, nil)
	cfg.Buses = nil
	clk := newFastClock(monday)
	cfg.Clock = clk
	cfg.Shop = publishingShop(broker)
	for _, s := range cfg.Shop.Collectors[0].Sensors {
		s.From.Stale = 2 * time.Minute
	}
	seen := spyOn(t, &cfg)
	r := start(t, cfg)
	well := func() bool {
		for topic, payload := range map[string]string{"t/trunk": "-731.25", "t/filter": "604.5", "t/fan": "1", "t/saw": "open", "t/planer": "shut"} {
			broker.publish(topic, payload)
		}
		return strings.Contains(r.page("/sensors"), "sensors are sound")
	}
	eventually(t, "all is well", well)

	broker.stop()
	died := clk.Now()
	clk.jump(24 * time.Hour)
	eventually(t, "the alarm", func() bool { return seen.states(lostFilter)[alarm.ActiveUnacknowledged] == 1 })
	through := []string{"main/trunk", "main/filter drop", "main/fan", "gate/saw gate", "gate/planer gate"}
	eventually(t, "all are named", func() bool {
		return !slices.ContainsFunc(through, func(c string) bool { return !strings.HasPrefix(sensorOf(t, r, c).fault, "no-broker") })
	})
	assert.Contains(t, r.page("/sensors"), "no-broker, ")
	assert.NotEmpty(t, r.page("/"))
	back := clk.Now()

	broker.start()
	outside := broker.listen()
	eventually(t, "all is well again", well)
	eventually(t, "birth, and the alarm that could not be told", func() bool {
		return outside.on(root+"/status") == "online" && len(outside.under(root+"/alarm/")) > 0
	})
	eventually(t, "the alarm is over", func() bool { return seen.states(lostFilter)[alarm.ClearedUnacknowledged] == 1 })
	require.NoError(t, r.end())
	http.DefaultClient.CloseIdleConnections()
	for _, x := range storedReadings(t, reopened(t, cfg.DataDir), "main/trunk", "main/filter drop") {
		assert.Contains(t, []float64{-731.25, 604.5}, x.Value)
		assert.False(t, x.Time.After(died.Add(time.Second)) && x.Time.Before(back), "%s at %s, while nothing could come", x.Channel, x.Time)
	}
}
