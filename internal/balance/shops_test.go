package balance

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"ductward/internal/duct"
	"ductward/internal/shop"
)

// load reads the first collector of a shop file.
func load(t testing.TB, path string) *shop.Collector {
	t.Helper()
	s, problems, err := shop.Load(path)
	require.NoError(t, err)
	require.NoError(t, shop.Errors(problems))
	return s.Collectors[0]
}

// invented is a random shop: a trunk that widens towards the collector, machines on drops with gates of their own, needs
// near what the fan can give to a few of them. Every loss rises with its own flow unless wyes are asked for.
func invented(rnd *rand.Rand, machines int, wyes bool) *shop.Collector {
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*rnd.Float64() }
	c := &shop.Collector{
		Name: "c", Rating: between(2200, 3600), Transport: between(8, 16), Network: &shop.Network{},
		Filter: shop.Filter{CleanDrop: 500, CleanFlow: 0.7, HousingLoss: 30, Limit: between(700, 1500), LimitFlow: 0.7},
	}
	top, reach := between(2200, 3400), between(0.9, 1.5)
	for i := range 11 {
		x := float64(i) / 10
		c.Fan.Points = append(c.Fan.Points, shop.CurvePoint{Flow: x * reach, Pressure: top * (1 - 0.1*x - 0.8*x*x), Power: math.NaN()})
	}
	run := func(name string, from shop.End, to shop.End, diameter, length float64) *shop.Run {
		r := &shop.Run{Name: name, From: from, To: to, Diameter: diameter, Length: length, Roughness: 9e-5, Stretch: 1,
			Rating: math.NaN(), Tightness: shop.Leakage{C: 3e-6, N: 0.65}}
		c.Network.Runs = append(c.Network.Runs, r)
		return r
	}
	trunk := between(0.13, 0.18)
	for i := range machines {
		name := fmt.Sprintf("m%02d", i)
		needs := between(0.1, 0.35)
		if rnd.IntN(8) == 0 {
			needs = math.NaN()
		}
		c.Machines = append(c.Machines, &shop.Machine{Name: name, Needs: needs})
		c.Gates = append(c.Gates, &shop.Gate{Name: "gate " + name, Open: 0.05, SeatLeak: between(0, 0.001)})
		drop := run("drop "+name, shop.End{Kind: shop.EndMachine, Name: name}, shop.End{}, between(0.09, 0.16), between(2, 7))
		drop.Gate = "gate " + name
		drop.Fittings = []shop.Fitting{{Kind: shop.FixedLoss, Coefficient: between(0.8, 2.5)}}
		joint := shop.End{Kind: shop.EndJunction, Name: fmt.Sprintf("joint %02d", i)}
		if i == 0 {
			drop.To = shop.End{Kind: shop.EndRun, Name: "trunk 00"}
			run("trunk 00", shop.End{}, shop.End{}, trunk, between(1, 4))
			continue
		}
		before := c.Run(fmt.Sprintf("trunk %02d", i-1))
		drop.To, before.To = joint, joint
		j := &shop.Junction{Name: joint.Name, Straight: before.Name, Branch: drop.Name}
		if wyes {
			j.Kind, j.Angle = shop.Wye, math.Pi/4
		}
		c.Network.Junctions = append(c.Network.Junctions, j)
		if rnd.IntN(3) == 0 {
			trunk = math.Min(trunk*1.15, 0.25)
		}
		run(fmt.Sprintf("trunk %02d", i), joint, shop.End{}, trunk, between(1, 4))
	}
	c.Run(fmt.Sprintf("trunk %02d", machines-1)).To = shop.End{Kind: shop.EndCollector}
	return c
}

// boardOf searches a shop, with or without leaving out sets.
func boardOf(t testing.TB, c *shop.Collector, filter []float64, prune bool, budget int) *board {
	t.Helper()
	m, err := duct.New(c)
	require.NoError(t, err)
	w, err := waysOf(c)
	require.NoError(t, err)
	b := &board{collector: c, ways: w, filter: filter}
	for _, ratio := range filter {
		b.add(newBench(c, m, w, duct.State{FilterRatio: ratio}), prune, budget)
	}
	b.search()
	return b
}
