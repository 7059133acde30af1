package daemon

import (
	"bufio"
	"context"
	"encoding/json"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
	"ductward/internal/shop"
)

// realBroker is a Mosquitto on loopback.
type realBroker struct {
	t    *testing.T
	port string
	conf string
	as   []string // what outside clients say beside host and port
	cmd  *exec.Cmd
}

// startBroker starts a real broker that lets everybody in, and skips the test where there is none.
func startBroker(t *testing.T) *realBroker { return startBrokerWith(t, "allow_anonymous true\n") }

// startBrokerWith starts one with more lines of configuration, which outside clients meet with more arguments.
func startBrokerWith(t *testing.T, conf string, as ...string) *realBroker {
	t.Helper()
	for _, name := range []string{"mosquitto", "mosquitto_pub", "mosquitto_sub"} {
		if _, err := exec.LookPath(name); err != nil {
			t.Skip("this test needs the broker and clients of the Mosquitto package: " + name + " is not installed")
		}
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	_, port, err := net.SplitHostPort(l.Addr().String())
	require.NoError(t, err)
	require.NoError(t, l.Close())
	b := &realBroker{t: t, port: port, conf: filepath.Join(t.TempDir(), "mosquitto.conf"), as: as}
	require.NoError(t, os.WriteFile(b.conf, []byte("listener "+port+" 127.0.0.1\n"+conf), 0o600))
	b.start()
	t.Cleanup(b.stop)
	return b
}

func (b *realBroker) url() string { return "tcp://127.0.0.1:" + b.port }

func (b *realBroker) start() {
	b.t.Helper()
	b.cmd = exec.Command("mosquitto", "-c", b.conf)
	require.NoError(b.t, b.cmd.Start())
	eventually(b.t, "the broker listens", func() bool {
		c, err := net.Dial("tcp", "127.0.0.1:"+b.port)
		if err == nil {
			_ = c.Close()
		}
		return err == nil
	})
}

func (b *realBroker) stop() {
	if b.cmd == nil {
		return
	}
	_ = b.cmd.Process.Kill()
	_ = b.cmd.Wait() // it was killed
	b.cmd = nil
}

func (b *realBroker) publish(topic, payload string) {
	b.t.Helper()
	args := append([]string{"-h", "127.0.0.1", "-p", b.port, "-q", "1", "-t", topic, "-m", payload}, b.as...)
	out, err := exec.Command("mosquitto_pub", args...).CombinedOutput()
	require.NoError(b.t, err, string(out))
}

// heard is what an outside client has received: the newest payload of each topic, and whether it was retained.
type heard struct {
	mu       sync.Mutex
	payload  map[string]string
	retained map[string]bool
	count    map[string]int
	packs    []string // the values, in their order
}

// listen starts an outside client on all topics.
func (b *realBroker) listen() *heard {
	b.t.Helper()
	h := &heard{payload: map[string]string{}, retained: map[string]bool{}, count: map[string]int{}}
	ctx, stop := context.WithCancel(context.Background())
	args := append([]string{"-h", "127.0.0.1", "-p", b.port, "-q", "1", "-t", "#", "-F", "%r %t %p"}, b.as...)
	cmd := exec.CommandContext(ctx, "mosquitto_sub", args...)
	out, err := cmd.StdoutPipe()
	require.NoError(b.t, err)
	require.NoError(b.t, cmd.Start())
	done := make(chan struct{})
	go func() {
		defer close(done)
		for lines := bufio.NewScanner(out); lines.Scan(); {
			h.line(lines.Text())
		}
	}()
	b.t.Cleanup(func() { stop(); <-done; _ = cmd.Wait() })
	return h
}

func (h *heard) line(s string) {
	f := strings.SplitN(s, " ", 3)
	if len(f) < 3 {
		return
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.payload[f[1]], h.retained[f[1]] = f[2], f[0] == "1"
	h.count[f[1]]++
	if strings.HasPrefix(f[2], "[") {
		h.packs = append(h.packs, f[2])
	}
}

func (h *heard) on(topic string) string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.payload[topic]
}

// under returns the payload of the one topic that begins with prefix.
func (h *heard) under(prefix string) string {
	h.mu.Lock()
	defer h.mu.Unlock()
	for topic, p := range h.payload {
		if strings.HasPrefix(topic, prefix) {
			return p
		}
	}
	return ""
}

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
	eventually(t, "an alarm", func() bool { return outside.under(root+"/alarm/") != "" })
	late := broker.listen() // who comes later finds it
	eventually(t, "a retained alarm", func() bool { return late.under(root+"/alarm/") != "" })
	var a alarm.Alarm
	require.NoError(t, json.Unmarshal([]byte(late.under(root+"/alarm/")), &a))
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
	cable := newCable(t, "127.0.0.1:"+broker.port)
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
		return strings.Contains(outside.under(root+"/alarm/"), string(alarm.ActiveUnacknowledged))
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

// cable passes bytes between the daemon and the broker until it is cut.
type cable struct {
	t  *testing.T
	l  net.Listener
	to string

	mu    sync.Mutex
	conns []net.Conn
	wg    sync.WaitGroup
}

func newCable(t *testing.T, to string) *cable {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	c := &cable{t: t, l: l, to: to}
	c.wg.Go(c.accept)
	t.Cleanup(func() { c.cut(); c.wg.Wait() })
	return c
}

func (c *cable) address() string { return c.l.Addr().String() }

func (c *cable) accept() {
	for {
		near, err := c.l.Accept()
		if err != nil {
			return
		}
		far, err := net.Dial("tcp", c.to)
		if err != nil {
			_ = near.Close()
			continue
		}
		c.mu.Lock()
		c.conns = append(c.conns, near, far)
		c.mu.Unlock()
		c.wg.Go(func() { pass(far, near) })
		c.wg.Go(func() { pass(near, far) })
	}
}

func pass(to, from net.Conn) {
	_, _ = bufio.NewReader(from).WriteTo(to) // ends with the cut
	_ = to.Close()
}

// cut ends every connection, as a power cut at the daemon's end does, and lets none be made again.
func (c *cable) cut() {
	_ = c.l.Close()
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, x := range c.conns {
		if tcp, ok := x.(*net.TCPConn); ok {
			_ = tcp.SetLinger(0)
		}
		_ = x.Close()
	}
}
