package daemon

import (
	"context"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// BenchmarkBoard16x1Hz and its sibling run the whole daemon in a program of its own, in real time: the drivers on a bus
// whose transfers take as long as at 100 kHz, the store with a baseline of twelve days behind it, the estimate, the
// dashboard, with the fan running and a gate open. The simulated plant, which a board has not, is in the figures.
func BenchmarkBoard16x1Hz(b *testing.B) { benchmarkBoard(b, 16, time.Second) }

// BenchmarkBoard64x10Hz is the most that is promised.
func BenchmarkBoard64x10Hz(b *testing.B) { benchmarkBoard(b, 64, 100*time.Millisecond) }

func benchmarkBoard(b *testing.B, sensors int, every time.Duration) {
	program := filepath.Join(b.TempDir(), "boardbench")
	build := exec.Command("go", "build", "-o", program, "../testdata/boardbench")
	build.Env = append(os.Environ(), "CGO_ENABLED=0") // as the program for a board is built
	out, err := build.CombinedOutput()
	require.NoError(b, err, "%s", out)
	dir := b.TempDir()
	part := func(what string, every, window time.Duration) []byte {
		out, err := exec.Command(program, what, strconv.Itoa(sensors), every.String(), window.String(), dir).Output()
		require.NoError(b, err, "%s", out)
		return out
	}
	part("past", 30*time.Second, 0)
	for range b.N {
		var c struct {
			CPU, Resident, Anonymous, Jitter99, JitterMax float64
			Samples                                       int
		}
		require.NoError(b, json.Unmarshal(part("live", every, time.Minute), &c))
		b.ReportMetric(100*c.CPU, "%core")
		b.ReportMetric(c.Resident, "MB-resident")
		b.ReportMetric(c.Anonymous, "MB-anonymous")
		b.ReportMetric(c.Jitter99, "ms-jitter-p99")
		b.ReportMetric(c.JitterMax, "ms-jitter-most")
		b.ReportMetric(float64(c.Samples), "samples")
	}
}

// BenchmarkHeapOverAWeek lives through seventeen weeks of the demonstration's shop, by when whatever is kept for a time is
// full, the window of sixty working days too, and tells what the days of the last one add to the heap: in all, and without
// the views that are kept to save work and let go at a stated number, and the simulated plant.
func BenchmarkHeapOverAWeek(b *testing.B) {
	for range b.N {
		d := demoDaemon(b, 119, false)
		var heap []float64
		var count []map[string]int
		for day := 112; day <= 119; day++ {
			require.NoError(b, d.History(context.Background(), demoBegin.AddDate(0, 0, day), nil))
			heap = append(heap, heapMB())
			count = append(count, censusOf(d.open))
		}
		b.Logf("MB after each day: %.2f", heap)
		b.Logf("bytes that the week has added, by what holds them:\n%s", strings.Join(growth(count[0], count[7]), "\n"))
		b.ReportMetric(heap[7], "MB-heap")
		b.ReportMetric(1e3*(heap[7]-heap[0])/7, "kB/day")
		b.ReportMetric(1e-3*float64(ofTheWatch(count[7])-ofTheWatch(count[0]))/7, "kB/day-kept")
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
