package main

import (
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// balanceKeys are the keys that other programs rely on. Keys may be added.
var balanceKeys = []string{
	"collectors[].name", "collectors[].transport_velocity_m_s", "collectors[].rating_pa", "collectors[].filter_resistance",
	"collectors[].all_served", "collectors[].all_sets", "collectors[].all_sets_up_to", "collectors[].states_solved",
	"collectors[].states_without_balance", "collectors[].safe_sets", "collectors[].fine_sets", "collectors[].sets_with_air",
	"collectors[].together[].machines", "collectors[].together[].at[].filter_resistance", "collectors[].together[].at[].fine",
	"collectors[].together[].at[].fan_flow_m3_s", "collectors[].together[].at[].suction_pa", "collectors[].together[].at[].slowest_run",
	"collectors[].together[].at[].slowest_velocity_m_s", "collectors[].together[].at[].tightest_machine",
	"collectors[].together[].at[].tightest_spare_share", "collectors[].together[].at[].open[].name",
	"collectors[].together[].at[].open[].flow_m3_s", "collectors[].together[].at[].open[].needed_m3_s",
	"collectors[].together[].at[].wrong", "collectors[].not_at_filter_limit[].machines", "collectors[].air_only[].machines",
	"collectors[].machines[].name", "collectors[].machines[].needed_m3_s", "collectors[].machines[].served",
	"collectors[].machines[].alone[].fine", "collectors[].machines[].must_be_open_as_well", "collectors[].machines[].safe_sets",
	"collectors[].machines[].machines_in_largest", "collectors[].machines[].why", "collectors[].runs_that_never_carry",
}

// balanced is the part of the JSON that the tests look at.
type balanced struct {
	Collectors []struct {
		Filter   []float64 `json:"filter_resistance"`
		Served   bool      `json:"all_served"`
		Together []struct{ Machines []string }
		Machines []struct {
			Name, Served string
			Why          *string
		}
	}
}

// rigWith writes the rig's shop file with words replaced.
func rigWith(t *testing.T, oldnew ...string) string {
	t.Helper()
	text := readFile(t, rigShop)
	for i := 0; i < len(oldnew); i += 2 {
		require.Contains(t, text, oldnew[i], "the rig's shop file has changed")
		text = strings.ReplaceAll(text, oldnew[i], oldnew[i+1])
	}
	return write(t, "shop.yaml", text)
}

func TestBalanceTable(t *testing.T) {
	got := call(t, "balance", elmLane)
	assert.Equal(t, exitNotFine, got.code, "the trunk never carries with the filter at its limit")
	assert.Empty(t, got.errOut)
	golden(t, "balance-elm-lane.txt", got.out)
}

func TestBalanceOfAShopThatHasSafeSets(t *testing.T) {
	got := call(t, "balance", rigWith(t, "transport_velocity: 15 m/s", "transport_velocity: 8.2 m/s", "machine: mortiser, needs: 570", "machine: mortiser, needs: 1570"))
	assert.Equal(t, exitNotFine, got.code, "the mortiser asks for more than its hose lets through")
	golden(t, "balance-rig.txt", got.out)
}

// TestBalanceHoldsInAirflow asks airflow about each set that balance calls safe, with the filter clean and at its limit.
func TestBalanceHoldsInAirflow(t *testing.T) {
	shop := rigWith(t, "transport_velocity: 15 m/s", "transport_velocity: 8.2 m/s", "machine: mortiser, needs: 570", "machine: mortiser, needs: 400")
	got := call(t, "balance", shop, "--json")
	keys := keysOf(t, got.out)
	for _, k := range balanceKeys {
		assert.True(t, keys[k], "the JSON has no %s", k)
	}
	var b balanced
	require.NoError(t, json.Unmarshal([]byte(got.out), &b))
	c := b.Collectors[0]
	require.Len(t, c.Filter, 2)
	require.NotEmpty(t, c.Together)
	for _, s := range c.Together {
		for _, ratio := range []string{"1", "2.428571428571428"} {
			air := call(t, "airflow", shop, "--open", strings.Join(s.Machines, ","), "--filter-resistance", ratio, "--json")
			var told struct {
				Collectors []struct {
					Machines []struct {
						Name  string
						Open  bool
						Flow  float64 `json:"flow_m3_s"`
						Needs float64 `json:"needed_m3_s"`
					}
				}
			}
			require.NoError(t, json.Unmarshal([]byte(air.out), &told))
			for _, m := range told.Collectors[0].Machines {
				assert.False(t, m.Open && m.Flow < m.Needs, "%s with %v, filter %s", m.Name, s.Machines, ratio)
			}
		}
	}
	assert.InDelta(t, (1400.0-40)/(600-40), c.Filter[1], 1e-12, "the limit's media part over the clean one's, as in the shop file")
}

func TestBalanceExitCodes(t *testing.T) {
	easy := rigWith(t, "transport_velocity: 15 m/s", "transport_velocity: 1 m/s")
	rows := []struct {
		name string
		args []string
		code int
		says string
	}{
		{"every machine can be served", []string{easy}, exitFine, ""},
		{"a factor of nothing", []string{easy, "--filter-resistance", "0"}, exitUse, "a factor is a number above 0"},
		{"air that is none", []string{easy, "--air", "20C"}, exitUse, "--air"},
		{"no drawing", []string{"../../testdata/shops/smallest.yaml"}, exitFailed, "no collector has a drawing"},
		{"two files", []string{easy, easy}, exitUse, "accepts 1 arg"},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			got := call(t, append([]string{"balance"}, r.args...)...)
			assert.Equal(t, r.code, got.code, got.errOut)
			assert.Contains(t, got.errOut, r.says)
		})
	}
}

// TestBalanceBesideALoadedFilter: a filter that is told to be past its limit is asked about alone.
func TestBalanceBesideALoadedFilter(t *testing.T) {
	got := call(t, "balance", elmLane, "--filter-resistance", "9", "--json")
	var b balanced
	require.NoError(t, json.Unmarshal([]byte(got.out), &b))
	assert.Equal(t, []float64{9}, b.Collectors[0].Filter)
	table := call(t, "balance", elmLane, "--filter-resistance", "9")
	assert.Contains(t, strings.Join(strings.Fields(table.out), " "), "with the filter at 9 times the clean one's resistance")
}

// TestLongListsAreCut unless all of them are wanted.
func TestLongListsAreCut(t *testing.T) {
	shop := rigWith(t, "transport_velocity: 15 m/s", "transport_velocity: 1 m/s")
	short, long := call(t, "balance", shop), call(t, "balance", shop, "--all")
	assert.Contains(t, short.out, "more; --all tells them")
	assert.NotContains(t, long.out, "more; --all tells them")
	assert.Greater(t, len(long.out), len(short.out))
}

func readFile(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(data)
}
