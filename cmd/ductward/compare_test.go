package main

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// compareKeys are the keys that other programs rely on. Keys may be added.
var compareKeys = []string{
	"worse", "collectors_only_in", "collectors[].name", "collectors[].was", "collectors[].filter_resistance",
	"collectors[].transport_velocity_m_s", "collectors[].renamed", "collectors[].machines_only_in", "collectors[].gates_only_in",
	"collectors[].selectors_only_in", "collectors[].all_pairs", "collectors[].worse", "collectors[].machines[].name",
	"collectors[].machines[].was", "collectors[].machines[].needed_m3_s", "collectors[].machines[].sets",
	"collectors[].machines[].alone.flow_m3_s", "collectors[].machines[].least_gain_share",
	"collectors[].machines[].least_gain_with", "collectors[].machines[].most_gain_share", "collectors[].machines[].most_gain_with",
	"collectors[].machines[].sets_short", "collectors[].machines[].sets_now_short", "collectors[].machines[].sets_no_longer_short",
	"collectors[].sets[].asked", "collectors[].sets[].open", "collectors[].sets[].missing", "collectors[].sets[].worse",
	"collectors[].sets[].drawings[].fan_flow_m3_s", "collectors[].sets[].drawings[].fan_pressure_rise_pa",
	"collectors[].sets[].drawings[].filter_drop_pa", "collectors[].sets[].drawings[].suction_pa",
	"collectors[].sets[].drawings[].rating_pa", "collectors[].sets[].machines[].name", "collectors[].sets[].machines[].open",
	"collectors[].sets[].machines[].flow_m3_s", "collectors[].sets[].machines[].needed_m3_s", "collectors[].sets[].machines[].short",
	"collectors[].sets[].machines[].gain_share", "collectors[].sets[].runs_now_slow", "collectors[].sets[].runs_no_longer_slow",
}

const rigShop = "../../hardware/rig/shop.yaml"

// withLathe is the rig's shop with a lathe on the branch that was capped for it, and a narrower drop at the planer.
func withLathe(t *testing.T) string {
	t.Helper()
	return rigWith(t,
		"- {machine: edge sander, needs: 820 m3/h}", "- {machine: edge sander, needs: 820 m3/h}\n      - {machine: lathe, needs: 820 m3/h}",
		"- {gate: sander gate,", "- {gate: lathe gate, seat_leak: 2 m3/h}\n      - {gate: sander gate,",
		"          from: lathe cap\n          to: spare wye\n", "          from: lathe\n          to: spare wye\n          gate: lathe gate\n          fittings: [{entry: flanged}]\n",
		"\n      stubs:\n        - stub: lathe cap\n", "",
		"to: planer drop\n          diameter: 140 mm", "to: planer drop\n          diameter: 120 mm",
		"- run: planer drop\n          to: planer wye\n          diameter: 140 mm", "- run: planer drop\n          to: planer wye\n          diameter: 120 mm",
	)
}

// nameless replaces the file names, which differ from run to run.
func nameless(out string, paths ...string) string {
	for i, p := range paths {
		out = strings.ReplaceAll(out, p, []string{"now.yaml", "plan.yaml"}[i])
	}
	return out
}

func TestCompareTable(t *testing.T) {
	plan := withLathe(t)
	got := call(t, "compare", rigShop, plan)
	assert.Equal(t, exitNotFine, got.code, "the planer is short with others open, and was not")
	assert.Empty(t, got.errOut)
	golden(t, "compare-rig.txt", nameless(got.out, rigShop, plan))

	got = call(t, "compare", rigShop, plan, "--open", "surface planer,lathe", "--open", "mortiser")
	assert.Equal(t, exitNotFine, got.code)
	golden(t, "compare-rig-open.txt", nameless(got.out, rigShop, plan))

	got = call(t, "compare", plan, rigShop)
	assert.Contains(t, got.out, "No longer short: surface planer")
}

func TestCompareTheSameFile(t *testing.T) {
	got := call(t, "compare", rigShop, rigShop)
	assert.Equal(t, exitFine, got.code)
	assert.Contains(t, got.out, "No machine gains or loses air in any set.")
	assert.NotContains(t, got.out, "hort of air in the second")
}

// TestCompareSaysWhatAirflowSays for both drawings and a set of gates.
func TestCompareSaysWhatAirflowSays(t *testing.T) {
	plan := withLathe(t)
	got := call(t, "compare", rigShop, plan, "--open", "surface planer,edge sander", "--speed", "0.9", "--json")
	keys := keysOf(t, call(t, "compare", rigShop, plan, "--json").out)
	for _, k := range compareKeys {
		assert.True(t, keys[k], "the JSON has no %s", k)
	}
	var c struct {
		Worse      bool
		Collectors []struct {
			Sets []struct {
				Machines []struct {
					Name string
					Flow [2]float64 `json:"flow_m3_s"`
				}
			}
		}
	}
	require.NoError(t, json.Unmarshal([]byte(got.out), &c))
	assert.Equal(t, c.Worse, got.code == exitNotFine)
	require.Len(t, c.Collectors[0].Sets[0].Machines, 2)
	for side, path := range []string{rigShop, plan} {
		air := call(t, "airflow", path, "--open", "surface planer,edge sander", "--speed", "0.9", "--json")
		var s solved
		require.NoError(t, json.Unmarshal([]byte(air.out), &s))
		for _, m := range c.Collectors[0].Sets[0].Machines {
			for _, f := range s.Collectors[0].Machines {
				if f.Name == m.Name {
					assert.InDelta(t, f.Flow, m.Flow[side], 1e-8, "m³/s at %s in %s", m.Name, path)
				}
			}
		}
	}
}

func TestCompareExitCodes(t *testing.T) {
	hall := write(t, "hall.yaml", strings.Replace(readFile(t, elmLane), "collector: main", "collector: hall", 1))
	rows := []struct {
		name string
		args []string
		code int
		says string
	}{
		{"one file", []string{rigShop}, exitUse, "accepts 2 arg"},
		{"a name that neither has", []string{rigShop, rigShop, "--open", "bandsaw"}, exitUse, `--open "bandsaw"`},
		{"two machines on one hose", []string{rigShop, rigShop, "--open", "tenoner,spindle moulder"}, exitUse, "cannot stand at"},
		{"a factor of nothing", []string{rigShop, rigShop, "--speed", "0"}, exitUse, "a factor is a number above 0"},
		{"no drawing", []string{rigShop, "../../testdata/shops/smallest.yaml"}, exitFailed, "smallest.yaml: no collector has a drawing"},
		{"nothing in common", []string{elmLane, hall}, exitFailed, "no collector in common"},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			got := call(t, append([]string{"compare"}, r.args...)...)
			assert.Equal(t, r.code, got.code, got.errOut)
			assert.Contains(t, got.errOut, r.says)
		})
	}
}
