package store

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ductward/internal/reading"
)

// workload is 16 channels at 1 Hz: four differential pressures in 16-bit counts, with turbulence that is correlated
// over 5 s while the fan runs (6 hours of each day) and a code or so of noise while it does not; four temperatures and
// such in tenths, and eight switches.
type workload struct {
	rng  *rand.Rand
	ar   [4]float64
	slow [4]float64
	seq  uint64
	buf  []reading.Reading
}

var workloadNames = [16]string{"north/filter", "north/static", "north/velocity", "north/far tap", "north/air",
	"north/humidity", "north/barometer", "north/bin", "gate/saw", "gate/planer", "gate/lathe", "gate/sander",
	"gate/router", "gate/bench", "gate/floor", "north/fan"}

func newWorkload(seed uint64) *workload {
	return &workload{rng: rand.New(rand.NewPCG(seed, 16)), slow: [4]float64{200, 500, 10132, 120}}
}

func isRunning(second int) bool { s := second % 86400; return s >= 8*3600 && s < 14*3600 }

// counts is what a chip with 60 counts a pascal makes of x counts.
func counts(x float64) float64 { return float64(int16(math.Round(x))) / 60 }

// at gives the readings of one second.
func (w *workload) at(boot uint32, second int) []reading.Reading {
	w.buf = w.buf[:0]
	on := isRunning(second)
	mean := [4]float64{900, -1800, 140, -1500}
	for i, name := range workloadNames {
		w.seq++
		r := reading.Reading{Channel: name, SD: math.NaN(), Boot: boot, Mono: time.Duration(second) * time.Second, Seq: w.seq}
		switch {
		case i < 4 && on:
			w.ar[i] = 0.8*w.ar[i] + 0.6*w.rng.NormFloat64()
			r.Value = counts(15 * (mean[i] + (2+0.01*math.Abs(mean[i]))*w.ar[i]))
		case i < 4:
			r.Value = counts(w.rng.NormFloat64() * 0.6)
		case i < 8:
			if w.rng.IntN(60) == 0 {
				w.slow[i-4] += float64(w.rng.IntN(3) - 1)
			}
			r.Value = w.slow[i-4] / 10
		case i == 15 && on, i < 15 && on && second/900%7 == i-8:
			r.Value = 1
		}
		w.buf = append(w.buf, r)
	}
	return w.buf
}

// BenchmarkAppend is the making of history: readings as fast as they come, committed when memory for them is full.
func BenchmarkAppend(b *testing.B) {
	benchmark(b, 0, false)
}

// BenchmarkAppendCommitting30s is the same with the commits of the daemon, each synced.
func BenchmarkAppendCommitting30s(b *testing.B) {
	benchmark(b, 30, false)
}

// BenchmarkAppendInBulk is the same commits while nothing is promised.
func BenchmarkAppendInBulk(b *testing.B) {
	benchmark(b, 30, true)
}

func benchmark(b *testing.B, every int, bulk bool) {
	dir := b.TempDir()
	s, err := Open(dir, Options{})
	require.NoError(b, err)
	boot, err := s.NewBoot()
	require.NoError(b, err)
	require.NoError(b, s.Bulk(bulk))
	const chunk = 1 << 16
	w := newWorkload(1)
	feed := make([]reading.Reading, 0, chunk)
	second := 0
	var spent time.Duration
	b.ReportAllocs()
	b.ResetTimer()
	for n := 0; n < b.N; n += chunk {
		b.StopTimer()
		feed = feed[:0]
		for len(feed) < chunk {
			feed = append(feed, w.at(boot, second)...)
			second++
		}
		b.StartTimer()
		start := time.Now()
		for i := 0; i < chunk; i += 16 {
			require.NoError(b, s.Append(feed[i:i+16]))
			if every > 0 && i/16%every == 0 {
				require.NoError(b, s.Commit())
			}
		}
		spent += time.Since(start)
	}
	require.NoError(b, s.Close())
	b.StopTimer()
	readings := float64(w.seq)
	info, err := os.Stat(filepath.Join(dir, FileName))
	require.NoError(b, err)
	var mem runtime.MemStats
	runtime.ReadMemStats(&mem)
	b.ReportMetric(float64(info.Size())/readings, "B/reading")
	b.ReportMetric(float64(spent.Nanoseconds())/readings, "ns/reading")
	b.ReportMetric(readings/spent.Seconds()/1e6, "Mreadings/s")
}

// BenchmarkChart draws 1000 points of one pressure from a record of 60 days.
func BenchmarkChart(b *testing.B) {
	s, err := Open(b.TempDir(), Options{})
	require.NoError(b, err)
	defer func() { _ = s.Close() }()
	boot, err := s.NewBoot()
	require.NoError(b, err)
	require.NoError(b, s.PlaceBoot(boot, noon))
	const days = 60
	w := newWorkload(1)
	for second := range days * 86400 {
		require.NoError(b, s.Append(w.at(boot, second)))
	}
	require.NoError(b, s.Commit())
	size, err := s.Size()
	require.NoError(b, err)
	b.Logf("%d readings in %d bytes: %.3f bytes a reading", w.seq, size, float64(size)/float64(w.seq))
	for _, span := range []int{1, 7, 30, days} {
		b.Run(fmt.Sprintf("%d days", span), func(b *testing.B) {
			end := noon.Add(days * day)
			for b.Loop() {
				_, err := s.Chart("north/static", end.Add(-time.Duration(span)*day), end, 1000)
				require.NoError(b, err)
			}
		})
	}
	b.Run("latest of 16 channels", func(b *testing.B) {
		for b.Loop() {
			_ = s.Latest()
		}
	})
	b.Run("open", func(b *testing.B) {
		for b.Loop() {
			require.NoError(b, s.Close())
			s, err = Open(filepath.Dir(s.Path()), Options{})
			require.NoError(b, err)
		}
	})
	b.Run("readings of a day", func(b *testing.B) {
		n := 0
		for b.Loop() {
			for _, err := range s.Readings(b.Context(), ReadQuery{From: noon.Add(30 * day), To: noon.Add(31 * day)}) {
				require.NoError(b, err)
				n++
			}
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(n), "ns/reading")
	})
}
