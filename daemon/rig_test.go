package daemon

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ductward/hardware/rig"
	"ductward/internal/clock"
	"ductward/internal/shop"
)

// demoWorld is the demonstration's plants as a World.
type demoWorld struct {
	plants *rig.Demo
	clock  *clock.Virtual
}

func (w *demoWorld) Advance(time.Duration) {
	if err := w.plants.Advance(); err != nil {
		panic(err)
	}
}

func (w *demoWorld) Next() time.Duration {
	until := w.plants.IdleUntil()
	if until.IsZero() {
		return -1
	}
	return w.clock.Mono() + until.Sub(w.clock.Now())
}

// demoHistory lives through days of the demonstration's shop, through its drivers.
func demoHistory(t testing.TB, days int) *Daemon {
	s, problems := shop.Parse("shop.yaml", rig.DemoShop())
	require.NoError(t, shop.Errors(problems))
	s.Outbound = shop.Outbound{}
	begin := time.Date(2026, 1, 5, 0, 0, 0, 0, time.UTC)
	end := begin.Add(time.Duration(days) * 24 * time.Hour)
	plants, err := rig.NewDemo(s, begin, end, 1)
	require.NoError(t, err)
	clk := clock.NewVirtual(begin)
	plants.Use(clk)
	d, err := New(Config{Shop: s, DataDir: t.TempDir(), Buses: plants, Clock: clk, World: &demoWorld{plants, clk}, Log: quiet()})
	require.NoError(t, err)
	require.NoError(t, d.History(context.Background(), end, nil))
	return d
}

// BenchmarkDemoHistory lives through a month of the demonstration's shop.
func BenchmarkDemoHistory(b *testing.B) {
	for range b.N {
		began := time.Now()
		d := demoHistory(b, 30)
		b.ReportMetric(float64(time.Since(began).Nanoseconds())/float64(d.open.in.seq), "ns/reading")
		b.ReportMetric(float64(d.open.in.seq), "readings")
		require.NoError(b, d.Close())
	}
}
