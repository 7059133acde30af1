package duct_test

import (
	"maps"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/air"
	"ductward/internal/duct"
)

// shifted is a state with one parameter moved by a small step.
func shifted(st duct.State, p duct.Param, step float64) duct.State {
	one := func(x float64) float64 {
		if x == 0 {
			x = 1
		}
		return x * math.Exp(step)
	}
	switch p.Kind {
	case duct.LogFilter:
		st.FilterRatio = one(st.FilterRatio)
	case duct.LogFanSpeed:
		st.FanSpeed = one(st.FanSpeed)
	case duct.LogLoss:
		st.LossFactor = one(st.LossFactor)
	case duct.LogLeakFactor:
		st.LeakFactor = one(st.LeakFactor)
	case duct.LogFanFactor:
		st.FanFactor = one(st.FanFactor)
	case duct.LogThrottle:
		st.Throttle = one(st.Throttle)
	case duct.Past:
		st.PastFilter += step
	case duct.HousingLoss:
		st.Housing += step
	case duct.LogDensity:
		st.Air.Density *= math.Exp(step)
	case duct.LogBlock:
		blocked := map[string]float64{}
		for machine, factor := range st.Blocked {
			blocked[machine] = factor
		}
		blocked[p.Part] = one(blocked[p.Part])
		st.Blocked = blocked
	case duct.LogChoke:
		choked := map[string]float64{}
		for k, v := range st.Choked {
			choked[k] = v
		}
		choked[p.Part] = one(choked[p.Part])
		st.Choked = choked
	case duct.Mixed:
		mixing := map[string]float64{}
		for k, v := range st.Mixing {
			mixing[k] = v
		}
		mixing[p.Part] += step
		st.Mixing = mixing
	case duct.Stands:
		standing := map[string]float64{}
		maps.Copy(standing, st.Standing)
		standing[p.Part] += step
		st.Standing = standing
	case duct.LeakAt:
		st.Leaks = append(append([]duct.Leak{}, st.Leaks...), duct.Leak{Part: p.Part, Flow: step})
	}
	return st
}

// allParams lists every parameter that the model knows.
func allParams(m *duct.Model, machines, runs []string) []duct.Param {
	var ps []duct.Param
	for _, kind := range []duct.ParamKind{
		duct.LogFilter, duct.LogFanSpeed, duct.LogLoss, duct.LogLeakFactor, duct.LogDensity, duct.LogFanFactor,
		duct.LogThrottle, duct.Past, duct.HousingLoss,
	} {
		ps = append(ps, duct.Param{Kind: kind})
	}
	for _, part := range m.LeakParts() {
		ps = append(ps, duct.Param{Kind: duct.LeakAt, Part: part})
	}
	for _, machine := range machines {
		ps = append(ps, duct.Param{Kind: duct.LogBlock, Part: machine})
	}
	for _, wye := range m.Wyes() {
		ps = append(ps, duct.Param{Kind: duct.Mixed, Part: wye})
	}
	for _, leg := range m.Legs() {
		ps = append(ps, duct.Param{Kind: duct.Stands, Part: leg})
	}
	for _, run := range runs {
		ps = append(ps, duct.Param{Kind: duct.LogChoke, Part: run})
	}
	return ps
}

// Every sensitivity is the derivative of the solve, at states without symmetry: some gates open, a loaded filter, a
// leak, a blocked drop, thin air.
func TestSensitivities(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawn{t}
		c := randomShop(d, d.int(2, 5), false)
		c.Fan.Between = 1 // straight lines have corners, where there is no derivative
		m := model(t, c)
		parts := m.LeakParts()
		st := duct.State{
			Setting: setting(c, rapid.Uint64().Draw(t, "gates")), FilterRatio: d.float(0.7, 4), FanSpeed: d.float(0.7, 1.1),
			PastFilter: d.float(0.001, 0.1), Housing: d.float(0.1, 50),
			LossFactor: d.float(0.8, 1.3), FanFactor: d.float(0.8, 1.1), Throttle: d.float(0.7, 1), Air: air.State{Density: d.float(0.9, 1.3), Viscosity: 1.85e-5, Temperature: 290},
			Leaks:   []duct.Leak{{Part: parts[d.int(0, len(parts)-1)], Flow: d.float(0.001, 0.05)}},
			Blocked: map[string]float64{c.Machines[0].Name: d.float(0.7, 3)},
		}
		var machines []string
		for _, machine := range c.Machines {
			machines = append(machines, machine.Name)
		}
		var runs []string
		for _, run := range c.Network.Runs {
			runs = append(runs, run.Name)
		}
		st.Choked = map[string]float64{runs[d.int(0, len(runs)-1)]: d.float(0.7, 3)}
		st.Mixing = map[string]float64{}
		for _, wye := range m.Wyes() {
			st.Mixing[wye] = d.float(-0.2, 0.2)
		}
		st.Standing, st.Trickle = map[string]float64{}, map[string]float64{}
		for _, leg := range m.Legs() {
			st.Standing[leg] = d.float(-0.2, 0.2)
			st.Trickle[leg] = d.float(-0.2, 0.2)
		}
		r := solve(t, m, st)
		ps := allParams(m, machines, runs)
		got, err := m.Sensitivity(r, ps)
		require.NoError(t, err)
		require.Len(t, got, len(r.Sensors))
		for k, p := range ps {
			step, least := 1e-4, 1e-3
			if p.Kind == duct.LeakAt || p.Kind == duct.Past {
				step, least = 1e-6, 0.1 // Pa per m³/s: at no flow at all a square has no slope, but a difference
			}
			up, down := solve(t, m, shifted(st, p, step)), solve(t, m, shifted(st, p, -step))
			for i, s := range r.Sensors {
				want := (up.Sensors[i].Value - down.Sensors[i].Value) / (2 * step)
				// Differences of a value known to 1e-9 of itself, of which curvature takes its part.
				tolerance := 2e-4*math.Abs(want) + 1e-8*math.Abs(s.Value)/step + least
				assert.InDelta(t, want, got[i][k], tolerance, "%s by %+v", s.Channel, p)
			}
		}
	})
}

func TestSensitivityRefusals(t *testing.T) {
	c := randomShop(newDice(1), 3, false)
	m := model(t, c)
	r := solve(t, m, duct.State{})
	_, err := m.Sensitivity(nil, nil)
	assert.Error(t, err)
	_, err = model(t, c).Sensitivity(r, nil)
	assert.ErrorContains(t, err, "result of this model")
	_, err = m.Sensitivity(r, []duct.Param{{Kind: duct.LeakAt, Part: "run:nowhere"}})
	assert.ErrorContains(t, err, "nowhere")
	_, err = m.Sensitivity(r, []duct.Param{{Kind: duct.LogBlock, Part: "lathe"}})
	assert.ErrorContains(t, err, "lathe")
	_, err = m.Sensitivity(r, []duct.Param{{Kind: duct.LogChoke, Part: "cellar"}})
	assert.ErrorContains(t, err, "cellar")
	_, err = m.Sensitivity(r, []duct.Param{{Kind: duct.Mixed, Part: "window"}})
	assert.ErrorContains(t, err, "window")
	_, err = m.Solve(duct.State{Choked: map[string]float64{"cellar": 2}})
	assert.ErrorContains(t, err, "cellar")
	_, err = m.Solve(duct.State{Choked: map[string]float64{c.Network.Runs[0].Name: -1}})
	assert.ErrorContains(t, err, "positive")
	_, err = m.Sensitivity(r, []duct.Param{{Kind: 99}})
	assert.Error(t, err)
}
