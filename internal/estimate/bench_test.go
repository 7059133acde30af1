package estimate_test

import (
	"fmt"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ductward/internal/estimate"
	"ductward/internal/plant"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/steady"
	"ductward/internal/trial"
)

// benchShop is one that the benchmarks fold the runs of.
type benchShop struct {
	name  string
	days  int // of the calendar
	shop  func() (*shop.Shop, error)
	fault bool // a seam opens slowly, and a seat at once
}

func benchShops() []benchShop {
	eight := func() (*shop.Shop, error) { return trial.Shop("C", true) }
	return []benchShop{
		{"8 drops", 120, eight, false},
		{"8 drops, leaking", 120, eight, true},
		{"40 drops", 60, func() (*shop.Shop, error) { return comb(40) }, false},
		{"40 drops, leaking", 60, func() (*shop.Shop, error) { return comb(40) }, true},
	}
}

// comb draws a shop of n drops of 100 mm along one trunk of which a few are open at once.
func comb(n int) (*shop.Shop, error) {
	var machines, gates, runs, junctions strings.Builder
	for i := 1; i <= n; i++ {
		fmt.Fprintf(&machines, "      - {machine: m%d, needs: 500 m3/h}\n", i)
		fmt.Fprintf(&gates, "      - {gate: g%d, seat_leak: 2 m3/h, position: {mqtt: shop/g%d, stale: 10 min}}\n", i, i)
		to := fmt.Sprintf("w%d", i)
		if i == 1 {
			to = "t1"
		}
		fmt.Fprintf(&runs, "        - {run: d%d, from: m%d, to: %s, diameter: 100 mm, length: 4 m, gate: g%d, fittings: [{measured: {drop: 500 Pa, flow: 500 m3/h}, what: hood}]}\n", i, i, to, i)
		from, next := fmt.Sprintf("from: w%d, ", i), fmt.Sprintf("w%d", i+1)
		if i == 1 {
			from = ""
		}
		if i == n {
			next = "collector"
		}
		fmt.Fprintf(&runs, "        - {run: t%d, %sto: %s, diameter: 200 mm, length: 2 m}\n", i, from, next)
		if i > 1 {
			fmt.Fprintf(&junctions, "        - {junction: w%d, kind: wye, angle: 45 deg, straight: t%d, branch: d%d}\n", i, i-1, i)
		}
	}
	s, problems := shop.Parse("comb.yaml", []byte(fmt.Sprintf(combShop, machines.String(), gates.String(), runs.String(), junctions.String(), n/2)))
	return s, shop.Errors(problems)
}

const combShop = `shop: Comb
collectors:
  - collector: main
    fan: {position: after filter, curve: [{flow: 0 m3/h, pressure: 3150 Pa}, {flow: 2400 m3/h, pressure: 2720 Pa}, {flow: 4600 m3/h, pressure: 650 Pa}], between: smooth}
    filter: {area: 24 m2, clean: {drop: 600 Pa, flow: 2400 m3/h}, limit: {drop: 1270 Pa, flow: 2400 m3/h}}
    rating: 5 kPa
    machines:
%s
    gates:
%s
    ducts:
      material: galvanised spiral
      tightness: C
      runs:
%s
      junctions:
%s
    sensors:
      - {sensor: filter drop, measures: filter drop, from: {mqtt: a, unit: Pa}}
      - {sensor: trunk static, measures: static pressure, at: t40, tap: end, from: {mqtt: b, unit: Pa}}
      - {sensor: trunk velocity, measures: velocity pressure, at: t40, tap: end, from: {mqtt: c, unit: Pa}}
      - {sensor: far static, measures: static pressure, at: t1, tap: end, from: {mqtt: d, unit: Pa}}
      - {sensor: middle static, measures: static pressure, at: t%d, tap: end, from: {mqtt: e, unit: Pa}}
    fan_running: {mqtt: f, stale: 10 min}
    alarms: {reference_suction: 1500 Pa, false_alarms_per_year: 1, filter_notice: 10 days, leak_to_tell: 3 m3/h}
outbound:
  mqtt: {broker: "tcp://127.0.0.1:1883"}
`

// recorded holds each bench shop's runs, made once.
var recorded sync.Map

// runsOf makes the steady runs of a bench shop.
func runsOf(b *testing.B, bs benchShop) []steady.Run {
	if have, ok := recorded.Load(bs.name); ok {
		return have.([]steady.Run)
	}
	s, err := bs.shop()
	require.NoError(b, err)
	r := trial.NewRecord(s, 1)
	if bs.fault {
		run := r.Collector.Network.Runs[len(r.Collector.Network.Runs)/2].Name
		r.Work.Faults = []plant.Fault{
			{Day: bs.days / 4, At: time.Minute, Kind: plant.LeakEvent, Name: "run:" + run, PerDay: 2.0 / 3600},
			{Day: bs.days / 2, At: time.Minute, Kind: plant.LeakEvent, Name: "seat:" + r.Collector.Gates[1].Name, Size: 80.0 / 3600},
		}
	}
	f := steady.NewFolder(r.Collector)
	var runs []steady.Run
	require.NoError(b, r.Run(bs.days, func(rd reading.Reading) { runs = append(runs, f.Add(&rd)...) }, nil))
	recorded.Store(bs.name, runs)
	return runs
}

// BenchmarkFold folds a record of some months. It tells the time for a day of work with its evening, for the dearest of
// its updates by day, and what the estimator holds on to in the end.
func BenchmarkFold(b *testing.B) {
	for _, bs := range benchShops() {
		b.Run(bs.name, func(b *testing.B) {
			runs := runsOf(b, bs)
			var days, updates, held int
			var fold time.Duration
			for b.Loop() {
				e, err := estimate.New(mustShop(b, bs))
				require.NoError(b, err)
				before := heap()
				start := time.Now()
				for _, r := range runs {
					e.Run(r)
				}
				fold += time.Since(start)
				days += len(e.Days())
				updates += len(runs)
				held = heap() - before
				runtime.KeepAlive(e)
			}
			b.ReportMetric(fold.Seconds()*1e3/float64(days), "ms/day")
			b.ReportMetric(fold.Seconds()*1e3/float64(updates), "ms/update")
			b.ReportMetric(float64(held)/(1<<20), "MB-held")
		})
	}
}

func mustShop(b *testing.B, bs benchShop) (*shop.Shop, *shop.Collector) {
	s, err := bs.shop()
	require.NoError(b, err)
	return s, s.Collectors[0]
}

// heap returns what is in use, bytes.
func heap() int {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int(m.HeapAlloc)
}
