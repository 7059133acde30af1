package duct_test

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/air"
	"ductward/internal/duct"
	"ductward/internal/shop"
)

// speedNet is a tree of so many runs with a share of its gates open, drawn so that the general solver has the least to
// do: one link a run and a fan, no separator, no discharge duct, and the filter's straight line taken off the fan's
// straight lines.
func speedNet(pipes int, open float64) *ductNet {
	d := &netDrawing{dice: newDice(uint64(pipes)), net: &ductNet{Name: fmt.Sprint(pipes), Nodes: []string{netInlet}}, open: open}
	d.net.Density, d.net.Viscosity = 1.2, digits(air.Reference().Viscosity)
	d.tree(pipes)
	d.machinery()
	d.net.Fan.Speed = 1
	return d.net
}

// speedShop is the same network as a drawing, with plain joints or with a 45° wye at every one.
func speedShop(n *ductNet, wyes bool) *shop.Collector {
	c := n.collector()
	c.Separator, c.Discharge = nil, nil
	if !wyes {
		return c
	}
	for _, j := range c.Network.Junctions {
		var ends []string
		for _, r := range c.Network.Runs {
			if r.To.Kind == shop.EndJunction && r.To.Name == j.Name {
				ends = append(ends, r.Name)
			}
		}
		if len(ends) == 2 {
			j.Kind, j.Angle, j.Straight, j.Branch = shop.Wye, math.Pi/4, ends[0], ends[1]
		}
	}
	return c
}

// solver is the general network solver, in a process of its own.
type solver struct {
	in  io.WriteCloser
	out *bufio.Scanner
}

// startSolver skips the benchmark where the solver is not installed.
func startSolver(b *testing.B) *solver {
	b.Helper()
	node, err := exec.LookPath("node")
	if err != nil {
		b.Skip("no node here, in whose process the general network solver would run:", err)
	}
	if _, err := os.Stat(hydraulicsFile("node_modules")); err != nil {
		b.Skip("the general network solver is not installed: run npm ci in testdata/hydraulics:", err)
	}
	cmd := exec.Command(node, "time.mjs")
	cmd.Dir, cmd.Stderr = hydraulicsFile(""), os.Stderr
	in, err := cmd.StdinPipe()
	require.NoError(b, err)
	out, err := cmd.StdoutPipe()
	require.NoError(b, err)
	require.NoError(b, cmd.Start())
	s := &solver{in: in, out: bufio.NewScanner(out)}
	s.out.Buffer(nil, 1<<24)
	b.Cleanup(func() {
		assert.NoError(b, in.Close())
		assert.NoError(b, cmd.Wait())
	})
	return s
}

func (s *solver) ask(b *testing.B, question, answer any) {
	b.Helper()
	require.NoError(b, json.NewEncoder(s.in).Encode(question))
	require.True(b, s.out.Scan(), "the general network solver ended: %v", s.out.Err())
	require.NoError(b, json.Unmarshal(s.out.Bytes(), answer))
}

// usual are the solver's own defaults, at which it stops as soon as a step changes the flows by a thousandth in all.
// tight are those of the fixture; this model always solves to more digits than that.
var (
	usual = map[string]any{"accuracy": 1e-3, "trials": 200, "lean": true}
	tight = map[string]any{"accuracy": 1e-5, "headError": 1e-7, "flowChange": 1e-6, "trials": 200, "lean": true}
)

type opened struct {
	Fan        float64 `json:"fan_m3_s"`
	Iterations float64 `json:"iterations"`
}

// open gives the solver a network.
func (s *solver) open(b *testing.B, n *ductNet, options any) (o opened) {
	b.Helper()
	s.ask(b, map[string]any{"net": n, "options": options}, &o)
	return o
}

// batches are the times of a solve in µs, batch by batch.
func (s *solver) batches(b *testing.B, d time.Duration) []float64 {
	b.Helper()
	var o struct{ Us []float64 }
	s.ask(b, map[string]any{"seconds": d.Seconds()}, &o)
	return o.Us
}

// timed is what one solve of this model takes in µs, batch by batch, for so long.
func timed(d time.Duration, batch int, solve func()) (us []float64) {
	for end := time.Now().Add(d); time.Now().Before(end); {
		start := time.Now()
		for range batch {
			solve()
		}
		us = append(us, time.Since(start).Seconds()*1e6/float64(batch))
	}
	return us
}

// batchOf is how many solves take about half a millisecond.
func batchOf(solve func()) int {
	us := timed(50*time.Millisecond, 1, solve)
	return max(1, int(500/median(us)))
}

func median(x []float64) float64 {
	x = slices.Clone(x)
	slices.Sort(x)
	return x[len(x)/2]
}

const (
	rounds = 8 // of each solver in turn, so that what else the machine does slows both
	turn   = 100 * time.Millisecond
)

// race times this model and the general solver turn by turn.
func race(b *testing.B, s *solver, solve func()) (ours, theirs float64) {
	batch := batchOf(solve)
	var mine, its []float64
	for range rounds {
		its = append(its, s.batches(b, turn)...)
		mine = append(mine, timed(turn, batch, solve)...)
	}
	return median(mine), median(its)
}

// cold is a solve from nothing, into the memory of the last one.
func cold(b *testing.B, m *duct.Model, st duct.State) func() {
	var r duct.Result
	return func() {
		if err := m.Renew(&r, st, nil); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkAgainstNetworkSolver times cold solves of this model and of the general network solver on the same networks:
// with every gate open, as in a network drawn without gates, and with a third of them open, where both have less to do,
// the general solver most; and with every joint of this model a wye, whose losses go with the flows, while the general
// solver keeps its plain joints.
func BenchmarkAgainstNetworkSolver(b *testing.B) {
	for _, pipes := range []int{20, 60, 500} {
		for _, open := range []float64{1, 1.0 / 3} {
			for _, wyes := range []bool{false, true} {
				b.Run(fmt.Sprintf("runs=%d/open=%.0f%%/wyes=%t", pipes, 100*open, wyes), func(b *testing.B) {
					against(b, speedNet(pipes, open), wyes)
				})
			}
		}
	}
}

func against(b *testing.B, n *ductNet, wyes bool) {
	s := startSolver(b)
	m := model(b, speedShop(n, wyes))
	r, err := m.Solve(n.state())
	require.NoError(b, err)
	theirs := s.open(b, n, usual)
	if !wyes {
		require.InEpsilon(b, theirs.Fan, r.FanFlow, 0.01, "the two solve the same network")
	}
	solve := cold(b, m, n.state())
	solve() // the memory for the result
	b.ReportAllocs()
	for b.Loop() {
		solve()
	}
	b.StopTimer()
	ours, usually := race(b, s, solve)
	b.ReportMetric(float64(r.Iterations), "steps")
	b.ReportMetric(theirs.Iterations, "epanet-steps")
	b.ReportMetric(ours, "ours-µs")
	b.ReportMetric(usually, "epanet-µs")
	b.ReportMetric(ours/usually, "ratio")
	b.ReportMetric(s.open(b, n, tight).Iterations, "epanet-tight-steps")
	ours, tightly := race(b, s, solve)
	b.ReportMetric(tightly, "epanet-tight-µs")
	b.ReportMetric(ours/tightly, "ratio-tight")
}
