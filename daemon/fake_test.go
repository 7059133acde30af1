package daemon

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"math"
	"os"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/i2c"

	"ductward/internal/fixedseed"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/store"
)

// seed draws the same sequences in every run; -rapid.seed on the command line draws others.
const seed = "20260316"

func TestMain(m *testing.M) {
	if dir := os.Getenv(answerFolder); dir != "" {
		os.Exit(answerAndWait(dir))
	}
	fixedseed.Set(seed)
	goleak.VerifyTestMain(m) // a goroutine that outlives the tests fails them
}

// quick are times for tests with a fastClock.
var quick = pace{
	commitBusy: 5 * time.Second, commitIdle: 20 * time.Second,
	housekeeping: 5 * time.Millisecond,
	snapshot:     time.Second,
	publish:      10 * time.Second,
	faultAfter:   5 * time.Second, soundAfter: 3 * time.Second,
	failingAfter: 20 * time.Second,
	shutdown:     2 * time.Second,
	retryFirst:   20 * time.Millisecond, retryMost: 200 * time.Millisecond,
	tellFirst: time.Second, tellMost: 5 * time.Second, tellFailing: 10 * time.Second, calendar: 5 * time.Second,
}

// fastClock runs rate times as fast as the world outside, so that a test of minutes takes a second. Its civil time can
// be made to jump, and to be untrusted.
type fastClock struct {
	began time.Time
	rate  time.Duration

	skipped atomic.Int64 // ns by which it has jumped

	mu      sync.Mutex
	civil   time.Time // at mono 0
	trusted bool
}

func newFastClock(civil time.Time) *fastClock {
	return &fastClock{began: time.Now(), rate: 50, civil: civil, trusted: true}
}

func (c *fastClock) Mono() time.Duration {
	return c.rate*time.Since(c.began) + time.Duration(c.skipped.Load())
}

// jump lets time pass in which nobody does anything.
func (c *fastClock) jump(d time.Duration) { c.skipped.Add(int64(d)) }

func (c *fastClock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.civil.Add(c.Mono())
}

func (c *fastClock) Trusted() bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.trusted
}

func (c *fastClock) set(civil time.Time, trusted bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.civil, c.trusted = civil.Add(-c.Mono()), trusted
}

func (c *fastClock) Sleep(d time.Duration) { time.Sleep(d / c.rate) }

func (c *fastClock) Wait(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d / c.rate)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// board stands in for the wires: what is on each topic is set by the test. A topic that is not set yields nothing, and
// one whose value panics does so in the driver.
type board struct {
	mu     sync.Mutex
	values map[string]float64
	panics map[string]bool
}

func newBoard() *board {
	return &board{panics: map[string]bool{}, values: map[string]float64{
		"t/trunk": -0.5, "t/filter": 0.5, "t/fan": 0, "t/saw": 0, "t/planer": 0}}
}

func (b *board) set(topic string, v float64) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.values[topic] = v
}

func (b *board) unplug(topic string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	delete(b.values, topic)
}

func (b *board) breakDriver(topic string, broken bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.panics[topic] = broken
}

func (b *board) Payload(topic string) ([]byte, bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.panics[topic] {
		panic("the driver of " + topic)
	}
	v, ok := b.values[topic]
	return strconv.AppendFloat(nil, v, 'g', -1, 64), ok
}

func (b *board) I2C(name string) (i2c.Bus, error) { return nil, errors.New("no bus " + name) }

func (b *board) Pin(name string) (gpio.PinIn, error) { return nil, errors.New("no pin " + name) }

func fromTopic(topic, unit string) shop.Source {
	return shop.Source{Kind: shop.SourceMQTT, Topic: topic, Unit: unit, Stale: 20 * time.Second}
}

// smallShop has one collector without a drawing, two sensors, a fan switch, and three gates, one of them by hand.
func smallShop() *shop.Shop {
	fan, saw, planer := fromTopic("t/fan", ""), fromTopic("t/saw", ""), fromTopic("t/planer", "")
	return &shop.Shop{
		Name: "Quernstone Sash and Stair",
		Raw:  []byte("shop: Quernstone Sash and Stair\n"),
		Site: shop.Site{Temperature: 293.15, Humidity: 0.5, Location: time.UTC},
		Collectors: []*shop.Collector{{
			Name:   "main",
			Fan:    shop.Fan{Density: 1.2, Speed: math.NaN(), Points: []shop.CurvePoint{{Flow: 0, Pressure: 3000, Power: math.NaN()}, {Flow: 1.2, Pressure: 500, Power: math.NaN()}}},
			Filter: shop.Filter{CleanDrop: 600, CleanFlow: 0.667, Limit: 1400, LimitFlow: math.NaN(), Area: math.NaN()},
			Sensors: []*shop.Sensor{
				{Name: "filter drop", Measures: shop.FilterDrop, From: fromTopic("t/filter", "Pa"), Diameter: math.NaN()},
				{Name: "trunk", Measures: shop.StaticPressure, From: fromTopic("t/trunk", "Pa"), Diameter: math.NaN()},
			},
			FanSwitch: &fan,
			Gates: []*shop.Gate{{Name: "saw gate", Position: &saw}, {Name: "planer gate", Position: &planer},
				{Name: "lathe gate", Position: &shop.Source{Kind: shop.SourceByHand}}},
			Machines:  []*shop.Machine{{Name: "saw", Needs: math.NaN()}},
			Rating:    math.NaN(),
			Transport: 20,
			Alarms:    shop.AlarmSettings{ReferenceSuction: 1500, FalseAlarmsPerYear: 1, FilterNotice: 240 * time.Hour},
		}},
	}
}

// running is a daemon that runs in a test.
type running struct {
	t       *testing.T
	d       *Daemon
	address string
	log     *lines
	stop    context.CancelFunc
	ended   chan error
}

// start runs a daemon until the test stops it, or ends.
func start(t *testing.T, cfg Config) *running {
	t.Helper()
	r := &running{t: t, log: &lines{}, ended: make(chan error, 1)}
	cfg.Log = slog.New(slog.NewTextHandler(r.log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	cfg.Listen = "127.0.0.1:0"
	if cfg.pace == (pace{}) {
		cfg.pace = quick
	}
	listening := make(chan string, 1)
	cfg.Listening = func(a string) { listening <- a }
	d, err := New(cfg)
	require.NoError(t, err)
	ctx, stop := context.WithCancel(context.Background())
	r.d, r.stop = d, stop
	go func() { r.ended <- d.Run(ctx) }()
	t.Cleanup(func() {
		stop()
		if t.Failed() {
			t.Log(r.log.String())
		}
	})
	select {
	case r.address = <-listening:
	case err := <-r.ended:
		require.NoError(t, err, "the daemon did not start")
	case <-time.After(10 * time.Second):
		require.Fail(t, "the daemon did not start")
	}
	return r
}

// end stops the daemon and returns its error.
func (r *running) end() error {
	r.t.Helper()
	r.stop()
	select {
	case err := <-r.ended:
		return err
	case <-time.After(20 * time.Second):
		require.Fail(r.t, "the daemon did not stop", r.log.String())
		return nil
	}
}

// eventually waits for something that the daemon does by itself.
func eventually(t *testing.T, what string, ok func() bool) {
	t.Helper()
	require.Eventually(t, ok, 20*time.Second, 5*time.Millisecond, what)
}

// lines gathers a log.
type lines struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (l *lines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.buf.Write(p)
}

func (l *lines) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.buf.String()
}

// reopened returns the store that a stopped daemon has left, checked.
func reopened(t *testing.T, dir string) *store.Store {
	t.Helper()
	s, err := store.Open(dir, store.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { _ = s.Close() })
	return s
}

func storedReadings(t *testing.T, s keeper, channels ...string) []reading.Reading {
	t.Helper()
	var out []reading.Reading
	for r, err := range s.Readings(context.Background(), store.ReadQuery{Channels: channels}) {
		require.NoError(t, err)
		out = append(out, r)
	}
	return out
}
