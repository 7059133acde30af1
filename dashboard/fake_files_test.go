package dashboard

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/duct"
	"ductward/internal/estimate"
	"ductward/internal/shop"
	"ductward/internal/watch"
)

// fromFile is a fake over a shop file, with the air that the duct model tells for the machines named (the first one if
// none is named).
func fromFile(t *testing.T, file string, open ...string) *fake {
	t.Helper()
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	s, problems := shop.Parse(file, data)
	require.NoError(t, shop.Errors(problems))
	f := &fake{shop: s, snap: &watch.Snapshot{Shop: s.Name, ReferenceSuction: 1500}}
	for _, c := range s.Collectors {
		x := watch.Collector{Name: c.Name, Baseline: estimate.Baseline{Complete: true, Version: 1}, Days: testDays()}
		days := x.Days
		days[len(days)-1].Zones = nil
		for _, sensor := range c.Sensors {
			x.Sensors = append(x.Sensors, watch.Sensor{Channel: c.Name + "/" + sensor.Name, Value: math.NaN(), At: testNow, Noise: math.NaN(), Zero: math.NaN()})
		}
		x.Now = solved(t, c, open)
		f.snap.Collectors = append(f.snap.Collectors, x)
	}
	return f
}

// solved is the air that the model tells.
func solved(t *testing.T, c *shop.Collector, open []string) estimate.Now {
	t.Helper()
	n := estimate.Now{At: testNow, FanOn: true, Settled: true, Flow: m3h(1500, 30), Filter: val(1.2, 0.01), Leakage: m3h(3, 1)}
	if c.Network == nil {
		return n
	}
	if len(open) == 0 && len(c.Machines) > 0 {
		open = []string{c.Machines[0].Name}
	}
	setting, err := c.SettingFor(open)
	require.NoError(t, err)
	m, err := duct.New(c)
	require.NoError(t, err)
	r, err := m.Solve(duct.State{Setting: setting, FilterRatio: 1.2})
	require.NoError(t, err)
	n.Flow = estimate.Value{V: r.FanFlow, SE: 0.02 * r.FanFlow}
	for _, g := range c.Gates {
		if setting.Open[g.Name] {
			n.Open = append(n.Open, g.Name)
		}
	}
	for _, x := range r.Machines {
		n.Machines = append(n.Machines, estimate.MachineAir{Machine: x.Name, Open: x.Open, Flow: estimate.Value{V: x.Flow, SE: 0.02 * x.Flow}, Needs: x.Needs})
	}
	for _, x := range r.Runs {
		n.Runs = append(n.Runs, estimate.RunAir{Run: x.Name, Flow: x.Flow, Velocity: x.Velocity, Static: x.StaticEnd, Settles: x.Flow > 0.05 && x.Velocity < c.Transport})
	}
	return n
}

// TestEveryShopFileIsDrawn opens every shop of the project, so that hoses, rings, stubs and shops without a drawing are
// all seen.
func TestEveryShopFileIsDrawn(t *testing.T) {
	names, err := filepath.Glob("../testdata/shops/*.yaml")
	require.NoError(t, err)
	require.NotEmpty(t, names)
	for _, file := range append(names, "../hardware/rig/shop.yaml") {
		t.Run(filepath.Base(file), func(t *testing.T) {
			f := fromFile(t, file)
			h := f.handler(t)
			for _, path := range paths() {
				w := get(t, h, path)
				require.Equal(t, 200, w.Code, path)
				assert.NotContains(t, w.Body.String(), "NaN", path)
			}
			page := get(t, h, "/").Body.String()
			for _, c := range f.shop.Collectors {
				for _, m := range c.Machines {
					assert.Contains(t, page, m.Name)
				}
			}
		})
	}
}
