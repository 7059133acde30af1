package duct_test

import (
	"compress/gzip"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// drawNetworks is given when the fixture is to be made anew; testdata/hydraulics/README.md says how.
var drawNetworks = flag.Bool("draw-networks", false, "write testdata/hydraulics/networks.json.gz anew")

// The networks of the fixture: trees first, then looped ones. The seed of each is its place.
const (
	treesDrawn  = 100
	loopedDrawn = 100
)

// fixtureNets draws the networks of the fixture, of 5 to 200 pipes: as many between 5 and 10 as between 100 and 200.
func fixtureNets() []*ductNet {
	var out []*ductNet
	for i := range treesDrawn + loopedDrawn {
		seed := uint64(i)
		d := newDice(seed + 1000)
		pipes := int(5*math.Pow(40, d.Float64()) + 0.5)
		leaks := d.int(0, min(6, pipes/4))
		name, cross := fmt.Sprintf("tree %03d", i+1), 0
		if i >= treesDrawn {
			pipes = max(pipes, 8)
			leaks = min(leaks, pipes/6)
			cross = d.int(1, max(1, pipes/8))
			name = fmt.Sprintf("looped %03d", i+1)
		}
		out = append(out, drawNet(name, seed, pipes, cross, leaks))
	}
	return out
}

// netAnswer is what the general network solver found, by the order of the network's pipes and nodes.
type netAnswer struct {
	Name       string    `json:"name"`
	Iterations int       `json:"iterations"`
	Fan        float64   `json:"fan_m3_s"`
	Flows      []float64 `json:"flows_m3_s"`
	Pressures  []float64 `json:"pressures_pa"` // total
}

// fixture reads the networks with their answers.
func fixture(t testing.TB) (nets []*ductNet, answers []netAnswer) {
	t.Helper()
	readZipped(t, "networks.json.gz", &nets)
	readZipped(t, "answers.json.gz", &answers)
	require.Len(t, answers, len(nets))
	for i, a := range answers {
		require.Equal(t, nets[i].Name, a.Name)
		require.Len(t, a.Flows, len(nets[i].Pipes))
		require.Len(t, a.Pressures, len(nets[i].Nodes))
	}
	return nets, answers
}

// The networks kept are those drawn by this code, and are what they are meant to be.
func TestFixtureNetworksAreCurrent(t *testing.T) {
	drawn := fixtureNets()
	if *drawNetworks {
		writeZipped(t, "networks.json.gz", drawn)
		return // the answers are still those of the old ones
	}
	kept, _ := fixture(t)
	require.Equal(t, drawn, kept, "draw and solve them anew, as testdata/hydraulics/README.md says")
	require.Len(t, kept, 200)
	shut, gates := 0, 0
	for i, n := range kept {
		require.GreaterOrEqual(t, len(n.Pipes), 5, n.Name)
		require.LessOrEqual(t, len(n.Pipes), 200, n.Name)
		// Every node but the inlet has one pipe of a tree that leaves it.
		rest := len(n.Pipes) - n.fromRoom() - (len(n.Nodes) - 1)
		require.Equal(t, i >= treesDrawn, rest > 0, "%s: %d pipes close loops", n.Name, rest)
		for _, p := range n.Pipes {
			if p.Gate {
				gates++
			}
			if p.Shut {
				shut++
			}
		}
	}
	t.Logf("seeds 0 to %d, %d of %d gates shut", len(kept)-1, shut, gates)
}

func (n *ductNet) fromRoom() (count int) {
	for _, p := range n.Pipes {
		if p.From == netRoom {
			count++
		}
	}
	return count
}

func hydraulicsFile(name string) string {
	return filepath.Join("..", "..", "testdata", "hydraulics", name)
}

func readZipped(t testing.TB, name string, into any) {
	t.Helper()
	f, err := os.Open(hydraulicsFile(name))
	require.NoError(t, err)
	defer f.Close()
	z, err := gzip.NewReader(f)
	require.NoError(t, err)
	require.NoError(t, json.NewDecoder(z).Decode(into))
}

func writeZipped(t testing.TB, name string, v any) {
	t.Helper()
	f, err := os.Create(hydraulicsFile(name))
	require.NoError(t, err)
	z, err := gzip.NewWriterLevel(f, gzip.BestCompression)
	require.NoError(t, err)
	require.NoError(t, json.NewEncoder(z).Encode(v))
	require.NoError(t, z.Close())
	require.NoError(t, f.Close())
}
