package daemon

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/i2c"

	"ductward/hardware"
	"ductward/hardware/rig"
	"ductward/internal/clock"
	"ductward/internal/shop"
)

// boardLoad is the variable that makes the test binary a daemon on a simulated board that measures itself: what to do, how
// many sensors, the interval between their samples, how long to look, and the folder of its store.
const boardLoad = "DAEMON_BENCH_BOARD"

// boardCost is what it has measured.
type boardCost struct {
	CPU, Resident, Anonymous, JitterMS, JitterMost float64
	Samples                                        int
}

// BenchmarkBoard16x1Hz and its sibling run the whole daemon in a process of its own, in real time: the drivers on a bus
// whose transfers take as long as at 100 kHz, the store with a baseline of twelve days behind it, the estimate, the
// dashboard, with the fan running and a gate open. The simulated plant, which a board has not, is in the figures.
func BenchmarkBoard16x1Hz(b *testing.B) { benchmarkBoard(b, 16, time.Second) }

// BenchmarkBoard64x10Hz is the most that is promised.
func BenchmarkBoard64x10Hz(b *testing.B) { benchmarkBoard(b, 64, 100*time.Millisecond) }

func benchmarkBoard(b *testing.B, sensors int, every time.Duration) {
	dir := b.TempDir()
	boardProcess(b, "past", sensors, 30*time.Second, 0, dir)
	for range b.N {
		c := boardProcess(b, "live", sensors, every, time.Minute, dir)
		b.ReportMetric(100*c.CPU, "%core")
		b.ReportMetric(c.Resident, "MB-resident")
		b.ReportMetric(c.Anonymous, "MB-anonymous")
		b.ReportMetric(c.JitterMS, "ms-jitter-p99")
		b.ReportMetric(c.JitterMost, "ms-jitter-most")
		b.ReportMetric(float64(c.Samples), "samples")
	}
}

// boardProcess runs a part of it in another process.
func boardProcess(b *testing.B, what string, sensors int, every, window time.Duration, dir string) (c boardCost) {
	cmd := exec.Command(os.Args[0], "-test.run=none")
	cmd.Env = append(os.Environ(), boardLoad+"="+strings.Join([]string{what, strconv.Itoa(sensors), every.String(), window.String(), dir}, "|"))
	out, err := cmd.Output()
	require.NoError(b, err, "%s", out)
	require.NoError(b, json.Unmarshal(out, &c))
	return c
}

// measureBoard is that process.
func measureBoard(load string) int {
	c, err := boardPart(strings.Split(load, "|"))
	if err != nil {
		fmt.Println(err)
		return 1
	}
	if err := json.NewEncoder(os.Stdout).Encode(c); err != nil {
		return 1
	}
	return 0
}

func boardPart(load []string) (boardCost, error) {
	sensors, err := strconv.Atoi(load[1])
	if err != nil {
		return boardCost{}, err
	}
	every, err := time.ParseDuration(load[2])
	if err != nil {
		return boardCost{}, err
	}
	window, err := time.ParseDuration(load[3])
	if err != nil {
		return boardCost{}, err
	}
	s, err := boardShop(sensors, every)
	if err != nil {
		return boardCost{}, err
	}
	if load[0] == "past" {
		return boardCost{}, boardPast(s, load[4])
	}
	return boardLive(s, every, window, load[4])
}

// boardShop is the demonstration's, with static taps along its trunk until it has that many sensors, all on ABP2: with
// eight addresses, eight a bus.
func boardShop(sensors int, every time.Duration) (*shop.Shop, error) {
	s, problems := shop.Parse("shop.yaml", rig.DemoShop())
	if err := shop.Errors(problems); err != nil {
		return nil, err
	}
	s.Outbound = shop.Outbound{}
	c := s.Collectors[0]
	c.Sensors = slices.DeleteFunc(c.Sensors, func(x *shop.Sensor) bool { return x.From.Kind != shop.SourceI2C })
	runs := slices.DeleteFunc(slices.Clone(c.Network.Runs), func(r *shop.Run) bool { return !strings.HasPrefix(r.Name, "trunk") })
	for i := len(c.Sensors); i < sensors; i++ {
		c.Sensors = append(c.Sensors, &shop.Sensor{Name: fmt.Sprintf("tap %d", i), Measures: shop.StaticPressure, Run: runs[i%len(runs)].Name,
			Diameter: math.NaN(), From: shop.Source{Kind: shop.SourceI2C, Span: 4000}})
	}
	addresses := shop.ChipOf("abp2").Addresses
	for i, x := range c.Sensors {
		x.Interval, x.From.Chip, x.From.Bus, x.From.Address = every, "abp2", strconv.Itoa(1+i/len(addresses)), addresses[i%len(addresses)]
	}
	s.Raw = []byte(fmt.Sprintf("shop: %d sensors\n", sensors))
	return s, nil
}

// boardPast lives through twelve days, so that there is a baseline.
func boardPast(s *shop.Shop, dir string) error {
	end := time.Now().Truncate(time.Second)
	plants, err := rig.NewDemo(s, end.AddDate(0, 0, -12), end, 1)
	if err != nil {
		return err
	}
	clk := clock.NewVirtual(end.AddDate(0, 0, -12))
	plants.Use(clk)
	d, err := New(Config{Shop: s, DataDir: dir, Buses: plants, Clock: clk, World: &demoWorld{plants, clk, false}, Log: quiet()})
	if err != nil {
		return err
	}
	if err := d.History(context.Background(), end, nil); err != nil {
		return err
	}
	if !d.open.fold.watch.Snapshot().Collectors[0].Baseline.Complete {
		return fmt.Errorf("twelve days have made no baseline")
	}
	return d.Close()
}

// boardLive runs the daemon on the board for a while and measures what it takes.
func boardLive(s *shop.Shop, every, window time.Duration, dir string) (c boardCost, err error) {
	clk := clock.NewVirtual(time.Now())
	clk.Go()
	still, err := rig.NewStill(s, clk, 1)
	if err != nil {
		return c, err
	}
	b := &slowBoard{Still: still, began: map[string][]time.Time{}}
	known := make(chan struct{})
	d, err := New(Config{Shop: s, DataDir: dir, Buses: b, Clock: clk, Log: quiet(), Listen: "127.0.0.1:0", Known: func() { close(known) }})
	if err != nil {
		return c, err
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- d.Run(ctx) }()
	<-known
	time.Sleep(30 * time.Second) // the start is over, and the first batch is on the card
	b.forget()
	before, t := cpuTime(), time.Now()
	time.Sleep(window)
	c.CPU = (cpuTime() - before).Seconds() / time.Since(t).Seconds()
	c.JitterMS, c.JitterMost, c.Samples = b.jitter(every)
	c.Resident, c.Anonymous = statusMB("VmRSS"), statusMB("RssAnon")
	stop()
	return c, <-ended
}

// cpuTime is what this process has taken of all cores.
func cpuTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// statusMB reads a line of /proc/self/status, which are in kB.
func statusMB(key string) float64 {
	data, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return math.NaN()
	}
	for _, line := range strings.Split(string(data), "\n") {
		if rest, ok := strings.CutPrefix(line, key+":"); ok {
			kb, _ := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(rest), " kB"), 64)
			return kb / 1000
		}
	}
	return math.NaN()
}

// slowBoard is a rig whose transfers take their time, and which notes when each conversion was asked for.
type slowBoard struct {
	*rig.Still
	mu    sync.Mutex
	began map[string][]time.Time // by bus and address
}

func (b *slowBoard) I2C(name string) (i2c.Bus, error) {
	bus, err := b.Still.I2C(name)
	if err != nil {
		return nil, err
	}
	return hardware.NewBounded(&slowBus{bus, name, b}, time.Second), nil
}

func (b *slowBoard) forget() {
	b.mu.Lock()
	defer b.mu.Unlock()
	clear(b.began)
}

// jitter returns by how much the time between two samples of a sensor differs from the interval, in ms: the 99th
// percentile and the most.
func (b *slowBoard) jitter(every time.Duration) (p99, most float64, n int) {
	b.mu.Lock()
	defer b.mu.Unlock()
	var off []float64
	for _, at := range b.began {
		for i := 1; i < len(at); i++ {
			off = append(off, 1e3*math.Abs((at[i].Sub(at[i-1])-every).Seconds()))
		}
	}
	if len(off) == 0 {
		return math.NaN(), math.NaN(), 0
	}
	slices.Sort(off)
	return off[len(off)*99/100], off[len(off)-1], len(off)
}

// slowBus is a bus at 100 kHz: nine clocks a byte, the address among them (NXP UM10204, section 3.1.5).
type slowBus struct {
	i2c.Bus
	name  string
	board *slowBoard
}

func (s *slowBus) Tx(addr uint16, w, r []byte) error {
	if len(w) > 0 {
		s.board.mu.Lock()
		key := fmt.Sprint(s.name, " ", addr)
		s.board.began[key] = append(s.board.began[key], time.Now())
		s.board.mu.Unlock()
	}
	time.Sleep(time.Duration(1+len(w)+len(r)) * 90 * time.Microsecond)
	return s.Bus.Tx(addr, w, r)
}

// BenchmarkHeapOverAWeek lives through thirteen weeks of the demonstration's shop, by when whatever is kept for a time is
// full, and tells what the days of the last one add to the heap.
func BenchmarkHeapOverAWeek(b *testing.B) {
	for range b.N {
		s, problems := shop.Parse("shop.yaml", rig.DemoShop())
		require.NoError(b, shop.Errors(problems))
		s.Outbound = shop.Outbound{}
		plants, err := rig.NewDemo(s, demoBegin, demoBegin.AddDate(0, 0, 91), 1) // behind its end work never ceases
		require.NoError(b, err)
		clk := clock.NewVirtual(demoBegin)
		plants.Use(clk)
		d, err := New(Config{Shop: s, DataDir: b.TempDir(), Buses: plants, Clock: clk, World: &demoWorld{plants, clk, false}, Log: quiet()})
		require.NoError(b, err)
		var heap []float64
		for day := 84; day <= 91; day++ {
			require.NoError(b, d.History(context.Background(), demoBegin.AddDate(0, 0, day), nil))
			heap = append(heap, heapMB())
		}
		b.Logf("MB after each day: %.2f", heap)
		b.ReportMetric(heap[len(heap)-1], "MB-heap")
		b.ReportMetric(1e3*(heap[len(heap)-1]-heap[0])/7, "kB/day")
		require.NoError(b, d.Close())
	}
}

// heapMB is what lives on the heap.
func heapMB() float64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return float64(m.HeapAlloc) / 1e6
}
