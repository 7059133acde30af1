package duct_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"ductward/internal/duct"
)

// benchmark solves a random shop with every third gate open.
func benchmark(b *testing.B, drops int, warm bool) {
	c := randomShop(newDice(1), drops, false)
	m, err := duct.New(c)
	require.NoError(b, err)
	st := duct.State{Setting: setting(c, 0x9249249249249249)}
	var from *duct.Result
	if warm {
		near := st
		near.FilterRatio = 1.02
		from, err = m.Solve(near)
		require.NoError(b, err)
	}
	var r *duct.Result
	b.ReportAllocs()
	for b.Loop() {
		if r, err = m.Warm(st, from); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(c.Network.Runs)), "runs")
	b.ReportMetric(float64(r.Iterations), "steps")
}

func BenchmarkSolve8Drops(b *testing.B)  { benchmark(b, 8, false) }
func BenchmarkWarm8Drops(b *testing.B)   { benchmark(b, 8, true) }
func BenchmarkSolve22Drops(b *testing.B) { benchmark(b, 22, false) }
func BenchmarkWarm22Drops(b *testing.B)  { benchmark(b, 22, true) }

func BenchmarkSensitivity8Drops(b *testing.B) {
	c := randomShop(newDice(1), 8, false)
	m, err := duct.New(c)
	require.NoError(b, err)
	r, err := m.Solve(duct.State{Setting: setting(c, 0b1001)})
	require.NoError(b, err)
	var machines []string
	for _, machine := range c.Machines {
		machines = append(machines, machine.Name)
	}
	ps := allParams(m, machines, nil)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := m.Sensitivity(r, ps); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(ps)), "params")
}
