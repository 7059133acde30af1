package duct_test

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/duct"
	"ductward/internal/shop"
)

// mostSets of gates are solved of one shop: all of them where there are no more.
const mostSets = 200

// Every shop that the project describes solves with whatever gates are open and whatever the selectors join.
func TestDescribedShopsSolve(t *testing.T) {
	paths, err := filepath.Glob("../../testdata/shops/*.yaml")
	require.NoError(t, err)
	require.NotEmpty(t, paths)
	paths = append(paths, "../../hardware/rig/shop.yaml")
	for _, path := range paths {
		t.Run(filepath.Base(path), func(t *testing.T) {
			s, problems, err := shop.Load(path)
			require.NoError(t, err)
			for _, p := range problems {
				assert.True(t, p.Warning, p.Text)
			}
			drawn := 0
			for _, c := range s.Collectors {
				if c.Network == nil {
					_, err := duct.New(c)
					assert.ErrorContains(t, err, "drawing")
					continue
				}
				drawn++
				solveSets(t, c)
			}
			if drawn == 0 {
				t.Log("no collector of this shop has a drawing")
			}
		})
	}
}

func solveSets(t *testing.T, c *shop.Collector) {
	m := model(t, c)
	d := newDice(1)
	sets := uint64(1) << min(len(c.Gates), 62)
	for k := range min(sets, mostSets) {
		bits := k
		if sets > mostSets && k > 0 {
			bits = d.Uint64()
		}
		set := setting(c, bits)
		set.Port = map[string]int{}
		for _, s := range c.Selectors {
			set.Port[s.Name] = d.int(0, len(s.Ports))
		}
		r, err := m.Solve(duct.State{Setting: set})
		require.NoError(t, err, "%s, gates %b", c.Name, bits)
		assert.Less(t, newAudit(c, r).balance(), 1e-8, "%s, gates %b", c.Name, bits) // a tight seat passes 3e-10 untold
		assert.Len(t, r.Sensors, len(m.SensorChannels()))
		for i, channel := range m.SensorChannels() {
			assert.Equal(t, channel, r.Sensors[i].Channel)
			assert.True(t, strings.HasPrefix(channel, c.Name+"/"))
		}
	}
}
