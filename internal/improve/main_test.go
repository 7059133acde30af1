package improve

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"ductward/internal/fixedseed"
	"ductward/internal/shop"
)

func TestMain(m *testing.M) {
	fixedseed.Set("20261125")
	os.Exit(m.Run())
}

// read is a shop from its text, which may have warnings.
func read(t testing.TB, text string) *shop.Shop {
	t.Helper()
	s, problems := shop.Parse("test.yaml", []byte(text))
	require.NoError(t, shop.Errors(problems), text)
	return s
}

// load reads a shop file.
func load(t testing.TB, path string) *shop.Shop {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return read(t, string(data))
}

// files are all shops with a drawing that the tests know.
var files = []string{
	"testdata/poor.yaml", "../../hardware/rig/shop.yaml", "../../testdata/shops/fittings.yaml", "../../testdata/shops/ring-main.yaml",
	"../../testdata/shops/single-run.yaml", "../../testdata/shops/trunk-three-drops.yaml", "../../testdata/shops/two-collectors.yaml",
	"../../testdata/shops/hand-gates.yaml",
}

// drawn lists the collectors of all files that have a drawing.
func drawn(t testing.TB) []*shop.Collector {
	t.Helper()
	var out []*shop.Collector
	for _, f := range files {
		for _, c := range load(t, f).Collectors {
			if c.Network != nil {
				out = append(out, c)
			}
		}
	}
	require.Greater(t, len(out), 5)
	return out
}

// head is the collector of the small shops in the tests: a strong fan, a filter that costs little, dust carried from
// 20 m/s on.
const head = `shop: Small shop
collectors:
  - collector: main
    fan:
      position: after filter
      curve:
        - {flow: 0 m3/h, pressure: 2600 Pa}
        - {flow: 1000 m3/h, pressure: 2550 Pa}
        - {flow: 2000 m3/h, pressure: 2300 Pa}
        - {flow: 4000 m3/h, pressure: 800 Pa}
    filter: {clean: {drop: 40 Pa, flow: 2000 m3/h}, limit: 900 Pa}
`

// one is a shop with one machine and one drop that leads to the collector.
func one(needs, drop string) string {
	return head + `    machines: [{machine: saw, needs: ` + needs + `}]
    gates: [{gate: saw gate, position: by hand}]
    ducts:
      tightness: C
      runs:
        - {run: saw drop, from: saw, to: collector, gate: saw gate, ` + drop + `}
`
}

// replaced is a text with one part of it changed.
func replaced(t testing.TB, text, old, by string) string {
	t.Helper()
	require.Equal(t, 1, strings.Count(text, old), "%q stands once in the shop", old)
	return strings.Replace(text, old, by, 1)
}
