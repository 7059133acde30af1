package watch_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ductward/internal/reading"
	"ductward/internal/steady"
	"ductward/internal/trial"
	"ductward/internal/watch"
)

// BenchmarkResume goes on from a checkpoint of half a year of a shop with eight drops, and tells how many times faster that
// is than to tell a watch its runs, what the making of the checkpoint takes, and its size.
func BenchmarkResume(b *testing.B) {
	s, err := trial.Shop("C", true)
	require.NoError(b, err)
	r := trial.NewRecord(s, 1)
	f := steady.NewFolder(r.Collector)
	var runs []steady.Run
	require.NoError(b, r.Run(182, func(rd reading.Reading) { runs = append(runs, f.Add(&rd)...) }, nil))

	whole := newWatch(b, s)
	start := time.Now()
	for _, run := range runs {
		whole.Run(run)
	}
	told := time.Since(start)
	start = time.Now()
	data, err := whole.Checkpoint()
	require.NoError(b, err)
	made := time.Since(start)
	var w *watch.Watch
	for b.Loop() {
		w = newWatch(b, s)
		require.NoError(b, w.Resume(data))
	}
	b.ReportMetric(1e3*made.Seconds(), "ms-to-make")
	b.ReportMetric(float64(len(data))/1e3, "kB")
	b.ReportMetric(told.Seconds()/(b.Elapsed().Seconds()/float64(b.N)), "times-faster")
}
