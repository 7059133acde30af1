package draw

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"ductward/internal/duct"
	"ductward/internal/shop"
)

// inventedFan moves enough for the invented shops.
const inventedFan = `    fan:
      position: after filter
      curve: [{flow: 0 m3/h, pressure: 3.4 kPa}, {flow: 4000 m3/h, pressure: 3 kPa}, {flow: 8000 m3/h, pressure: 2 kPa}, {flow: 11000 m3/h, pressure: 0.5 kPa}]
    separator: {name: drop-out box, loss: {drop: 300 Pa, flow: 5000 m3/h}}
    filter: {clean: {drop: 500 Pa, flow: 5000 m3/h}, limit: 1.5 kPa}
`

// invented writes the shop file of an invented shop, part by part.
type invented struct {
	machines, gates, runs, junctions, stubs []string
	name                                    func(kind string, n int) string
}

func plainName(kind string, n int) string { return fmt.Sprintf("%s %d", kind, n) }

// drop adds a machine with its hose and its drop, which ends at the place given, and returns the drop's name.
func (v *invented) drop(to string, diameter int) string {
	n := len(v.machines) + 1
	m, g, hose, drop := v.name("moulder", n), v.name("gate", n), v.name("hose", n), v.name("drop", n)
	v.machines = append(v.machines, fmt.Sprintf("{machine: %q, needs: %d m3/h}", m, 300+5*diameter))
	v.gates = append(v.gates, fmt.Sprintf("{gate: %q, position: {gpio: GPIO%d}}", g, n))
	v.runs = append(v.runs, fmt.Sprintf("{run: %q, from: %q, to: %q, diameter: %d mm, length: 1.5 m, material: flexible hose, fittings: [{entry: flanged}]}", hose, m, drop, diameter),
		fmt.Sprintf("{run: %q, to: %q, diameter: %d mm, length: 4 m, gate: %q}", drop, to, diameter, g))
	return drop
}

// wye adds a junction from which a run leads on, and returns the junction's and the run's names.
func (v *invented) wye(straight, branch, angle string, at, run, to string, diameter int) {
	v.junctions = append(v.junctions, fmt.Sprintf("{junction: %q, kind: wye, angle: %s, straight: %q, branch: %q}", at, angle, straight, branch))
	v.runs = append(v.runs, fmt.Sprintf("{run: %q, from: %q, to: %q, diameter: %d mm, length: 3 m}", run, at, to, diameter))
}

// parse reads the shop back.
func (v *invented) parse(t testing.TB) *shop.Collector {
	t.Helper()
	var b strings.Builder
	b.WriteString("shop: Quernstone\ncollectors:\n  - collector: main\n" + inventedFan)
	list := func(indent, key string, items []string) {
		if len(items) > 0 {
			fmt.Fprintf(&b, "%s%s:\n%s  - %s\n", indent, key, indent, strings.Join(items, "\n"+indent+"  - "))
		}
	}
	list("    ", "machines", v.machines)
	list("    ", "gates", v.gates)
	b.WriteString("    ducts:\n      material: galvanised spiral\n      tightness: C\n")
	list("      ", "runs", v.runs)
	list("      ", "junctions", v.junctions)
	list("      ", "stubs", v.stubs)
	b.WriteString("    sensors:\n      - {sensor: filter drop, measures: filter drop, from: {i2c: 1, chip: abp2, address: 0x28, span: 2.5 kPa}}\n")
	b.WriteString("      - {sensor: trunk static, measures: static pressure, at: inlet, from: {i2c: 1, chip: abp2, address: 0x38, span: 4 kPa}}\n")
	s, problems := shop.Parse("invented.yaml", []byte(b.String()))
	require.NoError(t, shop.Errors(problems))
	return s.Collectors[0]
}

// tree is a shop of n machines whose drops and branches join two by two in an order drawn at random: 3n−1 runs.
func tree(t testing.TB, seed uint64, n int, name func(string, int) string) *shop.Collector {
	draw := rand.New(rand.NewPCG(seed, 1))
	v := &invented{name: name}
	to := make([]string, 0, n) // the runs that lead nowhere yet, by name
	for range n {
		to = append(to, v.drop("@", 100+20*draw.IntN(3)))
	}
	angles := []string{"30 deg", "45 deg", "60 deg", "90 deg"}
	for i := 1; len(to) > 1; i++ {
		a := draw.IntN(len(to))
		straight := to[a]
		to = append(to[:a], to[a+1:]...)
		b := draw.IntN(len(to))
		branch := to[b]
		at, run := name("wye", i), name("trunk", i)
		v.lead(straight, at)
		v.lead(branch, at)
		end := "@"
		if len(to) == 1 {
			end = "collector"
		}
		v.wye(straight, branch, angles[draw.IntN(4)], at, run, end, 160+20*draw.IntN(6))
		to[b] = run
	}
	return v.parse(t)
}

// lead ends a run, which leads nowhere yet, at a place.
func (v *invented) lead(run, to string) {
	for i, r := range v.runs {
		if strings.HasPrefix(r, fmt.Sprintf("{run: %q,", run)) {
			v.runs[i] = strings.Replace(r, `to: "@"`, fmt.Sprintf("to: %q", to), 1)
		}
	}
}

// trunkOfTwenty has twenty machines along one trunk, with hoses, drops and stubs: 60 runs.
func trunkOfTwenty(t testing.TB, name func(string, int) string) *shop.Collector {
	v := &invented{name: name}
	last := v.drop(name("wye", 1), 120)
	for i := 1; i < 20; i++ {
		at, run, to := name("wye", i), name("trunk", i), name("wye", i+1)
		if i == 19 {
			to = "collector"
		}
		v.wye(last, v.drop(at, 100+20*(i%3)), "45 deg", at, run, to, 160+8*i)
		last = run
	}
	return v.parse(t)
}

// ring is a ring main with n drops on either side: 2(2n)+2n+1 runs.
func ring(t testing.TB, n int) *shop.Collector {
	v := &invented{name: plainName}
	node := func(i int) string {
		if i == 0 || i == 2*n+1 {
			return "riser foot"
		}
		return fmt.Sprint("tee ", i)
	}
	for i := range 2*n + 1 {
		v.junctions = append(v.junctions, fmt.Sprintf("{junction: %q, kind: lossless}", node(i)))
		from, to := node(i+1), node(i)
		if i > n { // the other way round
			from, to = node(i), node(i+1)
		}
		v.runs = append(v.runs, fmt.Sprintf("{run: ring %d, from: %q, to: %q, diameter: 200 mm, length: 4 m}", i+1, from, to))
		if i > 0 {
			v.drop(node(i), 120)
		}
	}
	v.runs = append(v.runs, `{run: riser, from: riser foot, to: collector, diameter: 280 mm, length: 3 m}`)
	return v.parse(t)
}

// longNames are those of people who write everything down, in the widest letters.
func longNames(kind string, n int) string {
	return fmt.Sprintf("%s %d at the north wall OLD AND HEAVY MMMMWWWW", kind, n)
}

// fileShops are the collectors with a drawing of every shop file of the project.
func fileShops(t testing.TB) map[string]*shop.Collector {
	files, err := filepath.Glob("../../testdata/shops/*.yaml")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	out := map[string]*shop.Collector{}
	for _, file := range append(files, "../../hardware/rig/shop.yaml") {
		data, err := os.ReadFile(file)
		require.NoError(t, err)
		s, problems := shop.Parse(file, data)
		require.NoError(t, shop.Errors(problems))
		for _, c := range s.Collectors {
			if c.Network != nil {
				out[strings.TrimSuffix(filepath.Base(file), ".yaml")+"/"+c.Name] = c
			}
		}
	}
	return out
}

// solvedSheet is the sheet of a shop with the machines named open, with leaks at the parts named.
func solvedSheet(t testing.TB, c *shop.Collector, open []string, leaks ...string) *Sheet {
	t.Helper()
	setting, err := c.SettingFor(open)
	require.NoError(t, err)
	m, err := duct.New(c)
	require.NoError(t, err)
	st := duct.State{Setting: setting}
	for _, part := range leaks {
		st.Leaks = append(st.Leaks, duct.Leak{Part: part, Flow: 0.01})
	}
	r, err := m.Solve(st)
	require.NoError(t, err)
	s := Solved(c, st, r)
	s.ID, s.Title = "t", "the ducts of "+c.Name
	s.Heading = []string{"Quernstone", "Open: " + strings.Join(open, ", ")}
	return s
}
