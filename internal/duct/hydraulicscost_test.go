package duct_test

import (
	"fmt"
	"maps"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ductward/internal/duct"
)

// moves are states of which each differs from the one before it by one gate, the first from the last too: gates spread
// over the network are moved and moved back.
func moves(n *ductNet) []duct.State {
	st := n.state()
	var gated []string
	for _, p := range n.Pipes {
		if p.Gate {
			gated = append(gated, "gate of "+p.ID)
		}
	}
	var out []duct.State
	for i := range 8 {
		moved := n.state()
		moved.Setting.Open = maps.Clone(st.Setting.Open)
		gate := gated[i*(len(gated)-1)/7]
		moved.Setting.Open[gate] = !moved.Setting.Open[gate]
		out = append(out, moved, st)
	}
	return out
}

// BenchmarkOneGateMoves times a warm start after one gate has moved against a cold solve of the same states.
func BenchmarkOneGateMoves(b *testing.B) {
	for _, pipes := range []int{20, 60, 500} {
		for _, open := range []float64{1, 1.0 / 3} {
			for _, wyes := range []bool{false, true} {
				b.Run(fmt.Sprintf("runs=%d/open=%.0f%%/wyes=%t", pipes, 100*open, wyes), func(b *testing.B) {
					oneGateMoves(b, speedNet(pipes, open), wyes)
				})
			}
		}
	}
}

func oneGateMoves(b *testing.B, n *ductNet, wyes bool) {
	m, states := model(b, speedShop(n, wyes)), moves(n)
	var r duct.Result
	steps := 0
	through := func(from *duct.Result) func() {
		return func() {
			steps = 0
			for _, st := range states {
				if err := m.Renew(&r, st, from); err != nil {
					b.Fatal(err)
				}
				steps += r.Iterations
			}
		}
	}
	cold, warm := through(nil), through(&r)
	cold() // the memory for the result, and something to start from
	coldSteps := steps
	b.ReportAllocs()
	for b.Loop() {
		warm()
	}
	b.StopTimer()
	var colds, warms []float64
	batch := max(1, batchOf(cold)/4)
	for range rounds {
		colds = append(colds, timed(turn/2, batch, cold)...)
		warms = append(warms, timed(turn/2, batch, warm)...)
	}
	count := float64(len(states))
	b.ReportMetric(float64(coldSteps)/count, "cold-steps")
	b.ReportMetric(float64(steps)/count, "warm-steps")
	b.ReportMetric(median(colds)/count, "cold-µs")
	b.ReportMetric(median(warms)/count, "warm-µs")
	b.ReportMetric(median(warms)/median(colds), "ratio")
}

// BenchmarkGrowth times cold solves of trees of more and more runs: what a run costs stays the same but for the caches of
// the processor and a step more here and there.
func BenchmarkGrowth(b *testing.B) {
	for _, wyes := range []bool{false, true} {
		for _, pipes := range []int{20, 50, 100, 200, 500, 1000, 2000, 5000} {
			b.Run(fmt.Sprintf("runs=%d/wyes=%t", pipes, wyes), func(b *testing.B) { growth(b, pipes, wyes) })
		}
	}
}

func growth(b *testing.B, pipes int, wyes bool) {
	n := speedNet(pipes, 1)
	c := speedShop(n, wyes)
	start := time.Now()
	m, err := duct.New(c)
	require.NoError(b, err)
	built := time.Since(start)
	st := n.state()
	var r duct.Result
	require.NoError(b, m.Renew(&r, st, nil))
	solve := func() {
		if err := m.Renew(&r, st, nil); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		solve()
	}
	b.StopTimer()
	us := median(timed(turn, batchOf(solve), solve))
	b.ReportMetric(us*1000/float64(pipes), "ns/run")
	b.ReportMetric(us*1000/float64(pipes*r.Iterations), "ns/run/step")
	b.ReportMetric(float64(r.Iterations), "steps")
	b.ReportMetric(built.Seconds()*1000, "new-ms")
}
