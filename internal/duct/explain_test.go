package duct_test

import (
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/air"
	"ductward/internal/duct"
	"ductward/internal/shop"
)

// drawnCollectors are those of every shop that the project describes.
func drawnCollectors(t *testing.T) map[string]*shop.Collector {
	t.Helper()
	paths, err := filepath.Glob("../../testdata/shops/*.yaml")
	require.NoError(t, err)
	require.NotEmpty(t, paths)
	out := map[string]*shop.Collector{}
	for _, path := range append(paths, "../../hardware/rig/shop.yaml", "../../cmd/ductward/testdata/elm-lane.yaml") {
		s, _, err := shop.Load(path)
		require.NoError(t, err)
		for _, c := range s.Collectors {
			if c.Network != nil {
				out[filepath.Base(path)+" "+c.Name] = c
			}
		}
	}
	require.GreaterOrEqual(t, len(out), 5)
	return out
}

// anyState is a state with random gates, ports, air, fan, filter, leaks and blockages.
func anyState(d dice, c *shop.Collector, m *duct.Model) duct.State {
	st := duct.State{Setting: setting(c, d.Uint64()), FanSpeed: d.float(0.6, 1.1), FilterRatio: d.float(0.7, 5)}
	st.Air = air.State{Density: d.float(0.9, 1.3), Viscosity: d.float(1.7e-5, 1.9e-5)}
	st.Setting.Port = map[string]int{}
	for _, s := range c.Selectors {
		st.Setting.Port[s.Name] = d.int(0, len(s.Ports))
	}
	if parts := m.LeakParts(); d.int(0, 1) == 0 {
		st.Leaks = []duct.Leak{{Part: parts[d.int(0, len(parts)-1)], Flow: d.float(0, 0.05)}}
	}
	if d.int(0, 2) == 0 {
		st.Blocked = map[string]float64{c.Machines[d.int(0, len(c.Machines)-1)].Name: d.float(0.8, 6)}
		st.LossFactor = d.float(0.8, 1.3)
	}
	return st
}

// explainAll explains every machine of a state and holds the sums; it tells how many ways there were.
func explainAll(t *testing.T, m *duct.Model, r *duct.Result) (ways int) {
	t.Helper()
	for _, machine := range r.Machines {
		p, err := m.Explain(r, machine.Name)
		if !machine.Open {
			var shut *duct.NotJoinedError
			require.ErrorAs(t, err, &shut, machine.Name)
			assert.NotEmpty(t, shut.Shut, machine.Name)
			continue
		}
		require.NoError(t, err, machine.Name)
		ways++
		require.InEpsilon(t, r.FanRise, p.Loss(), 1e-6, "Pa, from %s", machine.Name)
		assert.Equal(t, r.FanRise, p.Rise)
		byRun := map[string]float64{}
		for i, e := range p.Elements {
			assert.Equal(t, i+1, e.Step)
			assert.NotEmpty(t, e.What, "%s, %s", machine.Name, e.Kind)
			assert.Positive(t, e.Flow, "m³/s, %s, %s", machine.Name, e.What)
			if e.Kind != duct.WyeElement {
				byRun[e.Run] += e.Loss
			}
		}
		for _, run := range r.Runs { // a run that is passed from its start to its end
			if loss, on := byRun[run.Name]; on {
				assert.InDelta(t, math.Abs(run.Loss), loss, 1e-3, "Pa, run %s", run.Name)
			}
		}
	}
	return ways
}

// The losses on the way of every machine of every described shop add up to the fan's rise, whatever is open, leaks or is
// blocked: the air comes from the room and goes back there.
func TestWayAddsUpToTheFan(t *testing.T) {
	for name, c := range drawnCollectors(t) {
		t.Run(name, func(t *testing.T) {
			m, d, ways := model(t, c), newDice(11), 0
			for range 60 {
				r, err := m.Solve(anyState(d, c, m))
				require.NoError(t, err)
				ways += explainAll(t, m, r)
			}
			assert.Greater(t, ways, 30, "ways were explained")
		})
	}
}

// The same in random shops with wyes at any angle, ring mains and flows that run backwards.
func TestWayInRandomShops(t *testing.T) {
	for seed := range uint64(40) {
		d := newDice(seed)
		c := randomShop(d, d.int(2, 10), false)
		(&drawing{Collector: c, chooser: d}).ring("ring")
		m, ways := model(t, c), 0
		for range 4 {
			r, err := m.Solve(duct.State{Setting: setting(c, d.Uint64()|1)})
			require.NoError(t, err, "seed %d", seed)
			ways += explainAll(t, m, r)
		}
		assert.Positive(t, ways, "seed %d", seed)
	}
}

// kinds lists what a way meets, in order.
func kinds(p *duct.Path) []duct.ElementKind {
	var out []duct.ElementKind
	for _, e := range p.Elements {
		out = append(out, e.Kind)
	}
	return out
}

// element is the first one of a kind.
func element(t *testing.T, p *duct.Path, kind duct.ElementKind) duct.Element {
	t.Helper()
	for _, e := range p.Elements {
		if e.Kind == kind {
			return e
		}
	}
	require.Fail(t, "not on the way", "%s", kind)
	return duct.Element{}
}

// Each element of a run is its coefficient on the velocity pressure of the air that passes it.
func TestElementsOfOneRun(t *testing.T) {
	c := drawnCollectors(t)["elm-lane.yaml main"]
	m := model(t, c)
	st, err := c.SettingFor([]string{"panel saw"})
	require.NoError(t, err)
	ref := air.Reference()
	r := solve(t, m, duct.State{Setting: st, Air: ref})
	p, err := m.Explain(r, "panel saw")
	require.NoError(t, err)
	assert.Equal(t, []duct.ElementKind{
		"hood", "gate", "straight", "elbow", "elbow", "wye", "straight", "separator", "filter",
	}, kinds(p))

	hood := element(t, p, duct.HoodElement)
	assert.Equal(t, "cabinet and guard", hood.Words)
	assert.InEpsilon(t, 750*math.Pow(hood.Flow/(850.0/3600), 2), hood.Loss, 1e-9, "Pa: 750 Pa at 850 m³/h, and with the square of the flow")

	elbow := element(t, p, duct.ElbowElement)
	assert.Equal(t, "elbow 90°, smooth, r/D 1.5", elbow.What)
	assert.InDelta(t, 0.15, elbow.Coefficient, 1e-9, "SMACNA HVAC Systems Duct Design, 4th ed., Table A-7 A, r/D 1.5")
	assert.InEpsilon(t, 4*elbow.Flow/(math.Pi*0.125*0.125), elbow.Velocity, 1e-9, "m/s in 125 mm")
	assert.InEpsilon(t, 0.15*ref.Density/2*elbow.Velocity*elbow.Velocity, elbow.Loss, 1e-9)

	straight := element(t, p, duct.StraightElement)
	assert.Equal(t, "saw drop", straight.Run)
	assert.Equal(t, 2.5, straight.Length)
	re := ref.Density * straight.Velocity * 0.125 / ref.Viscosity
	assert.InEpsilon(t, newAudit(c, r).lambda(re, 0.09e-3/0.125)*2.5/0.125, straight.Coefficient, 2e-3, "f·L/D; the seam lets the flow grow on the way")
}

// The networks that two independent programs solved (scipy with the library fluids, and the EPANET engine) give the
// total pressure at the duct's end and the filter's drop: the elements up to there add up to them within 0.5 %.
func TestWayAgreesWithReference(t *testing.T) {
	n := readNetwork(t, "single-run")
	want := n.Cases[0].Solved
	c := drawnCollectors(t)["single-run.yaml main"]
	m := model(t, c)
	r := solve(t, m, duct.State{Air: air.State{Density: n.Air.Density, Viscosity: n.Air.Density * n.Air.Kinematic}, FilterRatio: air.Reference().Viscosity / (n.Air.Density * n.Air.Kinematic)})
	p, err := m.Explain(r, "machine")
	require.NoError(t, err)
	var ducts float64
	for _, e := range p.Elements {
		if e.Run != "" {
			ducts += e.Loss
		}
	}
	assert.InEpsilon(t, -want.Pressures["t2"], ducts, 0.005, "Pa")
	assert.InEpsilon(t, want.Drop, element(t, p, duct.MediumElement).Loss, 0.005, "Pa")
	assert.InEpsilon(t, want.Rise, p.Rise, 0.005, "Pa")
}

func TestWorstFirst(t *testing.T) {
	c := drawnCollectors(t)["shop.yaml main"]
	m := model(t, c)
	st, err := c.SettingFor([]string{"thicknesser", "band saw"})
	require.NoError(t, err)
	p, err := m.Explain(solve(t, m, duct.State{Setting: st, FilterRatio: 3}), "thicknesser")
	require.NoError(t, err)
	worst := p.WorstFirst()
	require.Len(t, worst, len(p.Elements))
	assert.Equal(t, duct.MediumElement, worst[0].Kind, "a filter of three times its clean resistance costs more than all else")
	for i := 1; i < len(worst); i++ {
		assert.GreaterOrEqual(t, worst[i-1].Loss, worst[i].Loss)
	}
	assert.Equal(t, 1, p.Elements[0].Step, "the way itself keeps its order")
}

// In a ring main the larger flow leads on, against the drawing where the air goes that way.
func TestWayBackRoundARing(t *testing.T) {
	c := ringMain()
	for _, r := range c.Network.Runs {
		if r.Name == "left end" {
			r.Diameter = 0.06
		}
	}
	m := model(t, c)
	r := solve(t, m, duct.State{Setting: shop.Setting{Open: map[string]bool{"moulder gate": true}}})
	p, err := m.Explain(r, "moulder")
	require.NoError(t, err)
	var runs []string
	for _, e := range p.Elements {
		if e.Kind == duct.StraightElement {
			runs = append(runs, e.Run)
			assert.Positive(t, e.Loss, "Pa: friction costs, whichever way the air goes")
		}
	}
	assert.Equal(t, []string{"moulder drop", "left side", "right side", "trunk"}, runs)
	assert.InEpsilon(t, r.FanRise, p.Loss(), 1e-6)
}

func TestWayThatIsShut(t *testing.T) {
	c := hoseShop()
	m := model(t, c)
	r := solve(t, m, duct.State{Setting: shop.Setting{Open: map[string]bool{"tenoner gate": true}, Port: map[string]int{"hose": 2}}})
	_, err := m.Explain(r, "moulder")
	assert.EqualError(t, err, `machine "moulder" is not joined to the collector: gate "moulder gate" is shut`)
	_, err = m.Explain(r, "lathe")
	assert.EqualError(t, err, `machine "lathe" is not joined to the collector: port 1 of selector "hose" is shut`)
	_, err = m.Explain(r, "floor")
	assert.EqualError(t, err, `machine "floor" is not joined to the collector: port 2 of selector "valve" is shut`)
	_, err = m.Explain(r, "anvil")
	assert.ErrorContains(t, err, `there is no machine "anvil"`)
	_, err = model(t, ringMain()).Explain(r, "tenoner")
	assert.ErrorContains(t, err, "the model that solved it")
	p, err := m.Explain(r, "sander")
	require.NoError(t, err)
	assert.Equal(t, duct.SelectorElement, p.Elements[0].Kind)
	assert.Equal(t, "port 2, sander", p.Elements[0].What)
}

// A wye's loss is told for the leg by which the air comes in, and for no run that ends elsewhere.
func TestWyeLosses(t *testing.T) {
	c := drawnCollectors(t)["elm-lane.yaml main"]
	m := model(t, c)
	st, err := c.SettingFor([]string{"panel saw", "planer"})
	require.NoError(t, err)
	r := solve(t, m, duct.State{Setting: st})
	losses, err := m.WyeLosses(r)
	require.NoError(t, err)
	require.Len(t, losses, len(r.Runs))
	for i, machine := range map[int]string{0: "panel saw", 1: "planer"} {
		p, err := m.Explain(r, machine)
		require.NoError(t, err)
		assert.InEpsilon(t, element(t, p, duct.WyeElement).Loss, losses[i], 1e-9, "Pa, %s", machine)
	}
	assert.Zero(t, losses[2], "the trunk ends at no wye")
	_, err = m.WyeLosses(nil)
	assert.ErrorContains(t, err, "the model that solved it")
}

// A blocked drop shows as what it costs beyond its drawing, once for each run.
func TestBlockageOnTheWay(t *testing.T) {
	c := drawnCollectors(t)["elm-lane.yaml main"]
	m := model(t, c)
	st, err := c.SettingFor([]string{"planer"})
	require.NoError(t, err)
	r := solve(t, m, duct.State{Setting: st, Blocked: map[string]float64{"planer": 3}})
	p, err := m.Explain(r, "planer")
	require.NoError(t, err)
	drawn, blocked, times := 0.0, 0.0, 0
	for _, e := range p.Elements {
		switch {
		case e.Kind == duct.BlockageElement:
			blocked += e.Loss
			times++
		case e.Run == "planer drop" && e.Kind != duct.WyeElement:
			drawn += e.Loss
		}
	}
	assert.Equal(t, 1, times)
	assert.InEpsilon(t, 2*drawn, blocked, 1e-6, "Pa: three times the drop's loss in all")
}

// A machine with two hoods is explained by the one that takes in more air.
func TestWayOfTheLargerHood(t *testing.T) {
	c := ringMain()
	thin := &shop.Run{
		Name: "tenoner guard", From: shop.End{Kind: shop.EndMachine, Name: "tenoner"}, To: shop.End{Kind: shop.EndJunction, Name: "far"},
		Diameter: 0.06, Length: 2, Roughness: 9e-5, Stretch: 1,
	}
	c.Network.Runs = append([]*shop.Run{thin}, c.Network.Runs...)
	m := model(t, c)
	r := solve(t, m, duct.State{Setting: shop.Setting{Open: map[string]bool{"tenoner gate": true}}})
	p, err := m.Explain(r, "tenoner")
	require.NoError(t, err)
	assert.Equal(t, "tenoner drop", p.Elements[0].Run)
	assert.InEpsilon(t, r.Machines[0].Flow-r.Runs[0].Flow, p.Flow, 1e-9, "m³/s, without the guard's")
	assert.InEpsilon(t, r.FanRise, p.Loss(), 1e-6)
}
