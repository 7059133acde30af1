package main

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// elmLane is a small shop: two machines, two gates, one wye, no drawing beyond that.
const elmLane = "testdata/elm-lane.yaml"

// contractKeys are the keys that other programs rely on, as "collectors[].fan.flow_m3_s". Keys may be added.
var contractKeys = []string{
	"collectors[].name", "collectors[].converged", "collectors[].iterations", "collectors[].worst_residual_m3_s",
	"collectors[].fan.flow_m3_s", "collectors[].fan.pressure_rise_pa", "collectors[].fan.power_w",
	"collectors[].fan.speed_ratio", "collectors[].filter.drop_pa", "collectors[].separator.loss_pa",
	"collectors[].machines[].name", "collectors[].machines[].open", "collectors[].machines[].flow_m3_s",
	"collectors[].machines[].needed_m3_s", "collectors[].runs[].name", "collectors[].runs[].flow_m3_s",
	"collectors[].runs[].velocity_m_s", "collectors[].runs[].loss_pa", "collectors[].runs[].static_start_pa",
	"collectors[].runs[].static_end_pa", "collectors[].leaks[].part", "collectors[].leaks[].flow_m3_s",
	"collectors[].sensors[].channel", "collectors[].sensors[].value", "collectors[].sensors[].unit",
	"collectors[].warnings", "collectors[].other_working_points", "collectors[].inlet_static_pa", "collectors[].transport_velocity_m_s",
	"collectors[].fan.efficiency", "collectors[].fan.motor_power_w", "collectors[].machines[].short", "collectors[].runs[].loss_share",
	"collectors[].runs[].wye_loss_pa", "collectors[].runs[].used", "collectors[].runs[].transport_velocity_m_s",
	"collectors[].runs[].dust_may_settle", "collectors[].runs[].rating_pa", "collectors[].runs[].over_rating",
}

// keysOf lists the paths of all keys in a JSON text.
func keysOf(t *testing.T, text string) map[string]bool {
	t.Helper()
	var v any
	require.NoError(t, json.Unmarshal([]byte(text), &v))
	keys := make(map[string]bool)
	gatherKeys(keys, "", v)
	return keys
}

func gatherKeys(keys map[string]bool, path string, v any) {
	switch v := v.(type) {
	case map[string]any:
		for k, x := range v {
			p := strings.TrimPrefix(path+"."+k, ".")
			keys[p] = true
			gatherKeys(keys, p, x)
		}
	case []any:
		for _, x := range v {
			gatherKeys(keys, path+"[]", x)
		}
	}
}

// solved is the part of the JSON that the tests look at.
type solved struct {
	Collectors []struct {
		Name      string
		Converged bool
		Fan       struct {
			Flow  float64  `json:"flow_m3_s"`
			Rise  float64  `json:"pressure_rise_pa"`
			Power *float64 `json:"power_w"`
			Speed float64  `json:"speed_ratio"`
		}
		Filter struct {
			Drop float64 `json:"drop_pa"`
		}
		Machines []struct {
			Name string
			Open bool
			Flow float64 `json:"flow_m3_s"`
		}
		Runs []struct {
			Name  string
			Flow  float64 `json:"flow_m3_s"`
			Start float64 `json:"static_start_pa"`
			End   float64 `json:"static_end_pa"`
		}
		Leaks []struct {
			Part string
			Flow float64 `json:"flow_m3_s"`
		}
	}
}

// solve runs airflow --json on a shop that must solve.
func solve(t *testing.T, args ...string) solved {
	t.Helper()
	got := call(t, append([]string{"airflow", "--json"}, args...)...)
	require.Equal(t, exitFine, got.code, got.errOut)
	var s solved
	require.NoError(t, json.Unmarshal([]byte(got.out), &s))
	return s
}

func (s solved) machine(name string) float64 {
	for _, m := range s.Collectors[0].Machines {
		if m.Name == name {
			return m.Flow
		}
	}
	return math.NaN()
}

func (s solved) leak(part string) float64 {
	for _, l := range s.Collectors[0].Leaks {
		if l.Part == part {
			return l.Flow
		}
	}
	return math.NaN()
}

func TestAirflowTable(t *testing.T) {
	got := call(t, "airflow", elmLane, "--open", "panel saw")
	require.Equal(t, exitFine, got.code, got.errOut)
	golden(t, "airflow-saw.txt", got.out)
}

func TestAirflowJSONHasTheContractsKeys(t *testing.T) {
	got := call(t, "airflow", elmLane, "--open", "panel saw,planer", "--json")
	require.Equal(t, exitFine, got.code, got.errOut)
	keys := keysOf(t, got.out)
	for _, k := range contractKeys {
		assert.True(t, keys[k], "the contract's key %s is missing", k)
	}
	assert.Contains(t, got.out, `"power_w": null`, "this fan's curve has no power: unknown is null, never 0")
}

// TestAirflowBalances holds the answer to the law that it must obey: what the fan takes is what hoods and leaks let in.
func TestAirflowBalances(t *testing.T) {
	for _, open := range []string{"panel saw", "planer", "panel saw,planer", ""} {
		s := solve(t, elmLane, "--open", open)
		c := s.Collectors[0]
		require.True(t, c.Converged)
		in := 0.0
		for _, m := range c.Machines {
			in += m.Flow
		}
		for _, l := range c.Leaks {
			if strings.HasPrefix(l.Part, "run:") { // a seat's leak has come in through a hood
				in += l.Flow
			}
		}
		assert.InDelta(t, c.Fan.Flow, in, 1e-9, "m³/s, with %q open", open)
		for _, r := range c.Runs {
			assert.LessOrEqual(t, r.End, 0.0, "Pa: all of the duct is under suction, run %s with %q open", r.Name, open)
		}
	}
}

func TestAirflowAnswersToItsFlags(t *testing.T) {
	plain := solve(t, elmLane, "--open", "planer")
	rows := []struct {
		name  string
		flags []string
		holds func(s solved) bool
	}{
		{"a loaded filter takes air away", []string{"--filter-resistance", "2"}, func(s solved) bool {
			return s.machine("planer") < plain.machine("planer") && s.Collectors[0].Filter.Drop > plain.Collectors[0].Filter.Drop
		}},
		{"a blocked drop takes air away", []string{"--blocked", "planer=3"}, func(s solved) bool {
			return s.machine("planer") < 0.9*plain.machine("planer")
		}},
		{"a slow fan takes air away", []string{"--speed", "0.9"}, func(s solved) bool {
			return s.machine("planer") < 0.95*plain.machine("planer") && s.Collectors[0].Fan.Speed == 0.9
		}},
		{"thin air takes pressure away", []string{"--air", "20C,80000Pa,50%"}, func(s solved) bool {
			return s.Collectors[0].Fan.Rise < plain.Collectors[0].Fan.Rise
		}},
		{"a leak lets in more through the trunk and less through the hood", []string{"--leak", "run:trunk=60m3/h@1500Pa"}, func(s solved) bool {
			return s.leak("run:trunk") > plain.leak("run:trunk")+40.0/3600 && s.machine("planer") < plain.machine("planer")
		}},
		{"a gate opens as well as its machine", []string{"--open", "saw gate"}, func(s solved) bool {
			return s.machine("panel saw") > 0.1
		}},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			s := solve(t, append([]string{elmLane, "--open", "planer"}, r.flags...)...)
			assert.True(t, r.holds(s), "%+v", s)
		})
	}
}

// TestLeakIsCarriedToTheReferenceSuction holds that a leak measured at another suction is the same opening: by the
// exponent 0.65, a flow at 1000 Pa is (1500/1000)^0.65 = 1.3016 times as much at 1500 Pa (computed by hand).
func TestLeakIsCarriedToTheReferenceSuction(t *testing.T) {
	at1000 := solve(t, elmLane, "--open", "planer", "--leak", "run:trunk=40m3/h@1000Pa")
	at1500 := solve(t, elmLane, "--open", "planer", "--leak", "run:trunk=52.06m3/h@1500Pa")
	alone := solve(t, elmLane, "--open", "planer", "--leak", "run:trunk=52.06m3/h")
	assert.InEpsilon(t, at1500.leak("run:trunk"), at1000.leak("run:trunk"), 2e-4)
	assert.Equal(t, at1500.leak("run:trunk"), alone.leak("run:trunk"), "a flow alone is meant at the reference suction")
}

func TestAirflowWrongUse(t *testing.T) {
	rows := []struct {
		name string
		args []string
		says []string
	}{
		{"a name that is not there", []string{"--open", "panel sow"}, []string{`"panel sow"`, `"panel saw"`}},
		{"a part that is not there", []string{"--leak", "run:trunk 9=1m3/h"}, []string{"run:trunk 9", "run:trunk"}},
		{"a leak without a unit", []string{"--leak", "run:trunk=20"}, []string{"m3/h"}},
		{"a leak without a part", []string{"--leak", "20m3/h"}, []string{"PART=FLOW@SUCTION"}},
		{"a leak at no suction", []string{"--leak", "run:trunk=20m3/h@0Pa"}, []string{"not above zero"}},
		{"a machine that is not there", []string{"--blocked", "lathe=2"}, []string{`"lathe"`, "panel saw, planer"}},
		{"a factor that is no number", []string{"--blocked", "planer=half"}, []string{`"half"`}},
		{"a factor of zero", []string{"--filter-resistance", "0"}, []string{"--filter-resistance 0", "above 0"}},
		{"a negative speed", []string{"--speed", "-1"}, []string{"--speed -1"}},
		{"air with a part missing", []string{"--air", "20C,50%"}, []string{"20C,101325Pa,50%"}},
		{"air that is not air", []string{"--air", "20C,1Pa,50%"}, []string{"--air"}},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			got := call(t, append([]string{"airflow", elmLane}, r.args...)...)
			assert.Equal(t, exitUse, got.code, got.errOut)
			for _, s := range r.says {
				assert.Contains(t, got.errOut, s)
			}
			assert.Empty(t, got.out)
		})
	}
}

func TestAirflowNeedsADrawing(t *testing.T) {
	path := write(t, "shop.yaml", "shop: Elm Lane\ncollectors:\n  - collector: main\n")
	got := call(t, "airflow", path)
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.errOut, "drawing")
}

// TestAirflowOfTwoCollectors holds that a name goes to the collector that has it, and that one that both have must say
// which.
func TestAirflowOfTwoCollectors(t *testing.T) {
	one := func(n int) string {
		return fmt.Sprintf(`  - collector: side %d
    fan: {position: after filter, curve: [{flow: 0 m3/h, pressure: 2 kPa}, {flow: 3000 m3/h, pressure: 0.5 kPa}]}
    filter: {clean: {drop: 200 Pa, flow: 1000 m3/h}, limit: 1 kPa}
    machines: [{machine: saw}, {machine: planer %d}]
    gates: [{gate: saw gate %d}, {gate: planer gate %d}]
    ducts:
      runs:
        - {run: saw drop, from: saw, to: join, diameter: 120 mm, length: 3 m, gate: saw gate %d}
        - {run: planer drop, from: planer %d, to: join, diameter: 120 mm, length: 3 m, gate: planer gate %d}
        - {run: trunk, from: join, to: collector, diameter: 160 mm, length: 3 m}
      junctions: [{junction: join, kind: lossless}]
`, n, n, n, n, n, n, n)
	}
	path := write(t, "two.yaml", "shop: Two sides\ncollectors:\n"+one(1)+one(2))

	s := solve(t, path, "--open", "planer 2")
	require.Len(t, s.Collectors, 2)
	assert.Less(t, s.Collectors[0].Fan.Flow, 0.1, "nothing is open on the first side")
	assert.Greater(t, s.Collectors[1].Fan.Flow, 0.2)

	got := call(t, "airflow", path, "--open", "saw")
	assert.Equal(t, exitUse, got.code)
	assert.Contains(t, got.errOut, "side 1/saw")

	s = solve(t, path, "--open", "side 1/saw")
	assert.Greater(t, s.Collectors[0].Fan.Flow, 0.2)
	assert.Less(t, s.Collectors[1].Fan.Flow, 0.1)
}

func TestNumbersInJSON(t *testing.T) {
	rows := []struct {
		v    number
		want string
	}{
		{number(math.NaN()), "null"}, {number(math.Inf(1)), "null"}, {0, "0"}, {-1412.5, "-1412.5"}, {1e-9, "1e-9"},
	}
	for _, r := range rows {
		b, err := json.Marshal(r.v)
		require.NoError(t, err)
		assert.Equal(t, r.want, string(b))
	}
}
