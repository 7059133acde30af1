package main

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const (
	ringShop  = "../../testdata/shops/ring-main.yaml"
	bareShop  = "../../testdata/shops/smallest.yaml"
	aloneShop = "../../testdata/shops/single-run.yaml"
)

// worthFiguresShape is what other programs may rely on, written out once more.
type worthFiguresShape struct {
	Day     *float64 `json:"leak_found_in_a_day_m3_s"`
	Week    *float64 `json:"leak_found_in_a_week_m3_s"`
	Apart   *float64 `json:"leak_told_from_blockage_m3_s"`
	Stretch *float64 `json:"right_stretch_first"`
	Filter  *float64 `json:"filter_resistance_ratio_sd"`
	Air     *float64 `json:"neediest_machine_flow_ratio_sd"`
	Zones   []struct {
		Part string
		SD   *float64 `json:"new_leakage_m3_s_sd"`
	}
}

type worthShape struct {
	Collectors []struct {
		Name       string
		Drawn      bool
		Lacks      []struct{ Key, Brings string }
		Sentence   *string
		Reference  *float64 `json:"reference_suction_pa"`
		Leak       *float64 `json:"leak_m3_s"`
		Neediest   *string  `json:"neediest_machine"`
		Now        *worthFiguresShape
		Candidates []struct {
			worthFiguresShape
			Kind, Text string
			Measures   *string
			Run        *string
			Score      float64
		}
		Not []struct{ Text, Reason string } `json:"not_proposed"`
	}
}

// weighed reads the JSON of one call.
func weighed(t *testing.T, args ...string) worthShape {
	t.Helper()
	got := call(t, append([]string{"worth", "--json"}, args...)...)
	require.Equal(t, exitFine, got.code, got.errOut)
	var out worthShape
	d := json.NewDecoder(strings.NewReader(got.out))
	d.DisallowUnknownFields()
	require.NoError(t, d.Decode(&out))
	return out
}

func TestWorthJSON(t *testing.T) {
	out := weighed(t, ringShop, "--leak", "180 m3/h")
	require.Len(t, out.Collectors, 1)
	c := out.Collectors[0]
	assert.True(t, c.Drawn)
	assert.Empty(t, c.Lacks)
	assert.InDelta(t, 0.05, *c.Leak, 1e-12)
	assert.InDelta(t, 1500, *c.Reference, 1e-9)
	assert.Equal(t, "panel saw", *c.Neediest)
	require.NotNil(t, c.Now)
	require.NotEmpty(t, c.Now.Zones)
	require.NotEmpty(t, c.Candidates)
	for i, k := range c.Candidates {
		if i > 0 {
			assert.LessOrEqual(t, k.Score, c.Candidates[i-1].Score, "what brings most first")
		}
		assert.NotEmpty(t, k.Text)
		assert.Len(t, k.Zones, len(c.Now.Zones))
		assert.NotNil(t, k.Measures, "no stretch with every gate shut where no rating is known")
	}
	assert.Equal(t, "static pressure", *c.Candidates[0].Measures)
	require.Len(t, c.Not, 1)
	assert.Contains(t, c.Not[0].Reason, "rating")
}

// TestWorthTable holds what a person reads first, the figures, and on what they rest.
func TestWorthTable(t *testing.T) {
	got := call(t, "worth", ringShop, "--top", "2")
	require.Equal(t, exitFine, got.code, got.errOut)
	lines := strings.Split(got.out, "\n")
	assert.Equal(t, "collector main", lines[0])
	assert.True(t, strings.HasPrefix(lines[1], "What would bring most is a static tap at the end of "), lines[1])
	assert.Contains(t, got.out, "what is there")
	assert.Contains(t, got.out, "(--top 5)")
	assert.Contains(t, got.out, "Not proposed: the fan running with every gate shut, since what suction")
	assert.Contains(t, got.out, "36 runs\n  of 9 minutes a day")
	assert.NotContains(t, got.out, "every gate shut only while")
}

// TestWorthWithoutADrawing tells what a description could say, and is no failure.
func TestWorthWithoutADrawing(t *testing.T) {
	got := call(t, "worth", bareShop)
	require.Equal(t, exitFine, got.code, got.errOut)
	assert.Contains(t, got.out, "Without a drawing of the ducts")
	assert.Contains(t, got.out, "\ngates: ")
	assert.Contains(t, got.out, "\nducts: ")
	c := weighed(t, bareShop).Collectors[0]
	assert.False(t, c.Drawn)
	assert.Nil(t, c.Now)
	assert.Nil(t, c.Leak)
	assert.NotNil(t, c.Candidates)
	assert.Equal(t, "ducts", c.Lacks[len(c.Lacks)-1].Key)
}

func TestWorthWrongUse(t *testing.T) {
	for _, r := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{ringShop, "--checks", "hourly"}, exitUse, "write one of none, weekly, daily"},
		{[]string{ringShop, "--leak", "40"}, exitUse, "has no unit"},
		{[]string{ringShop, "--leak", "-40 m3/h"}, exitUse, "a leak above zero"},
		{[]string{ringShop, "--hoods", "200 %"}, exitUse, "up to 100 %"},
		{[]string{ringShop, "--runs", "0"}, exitUse, "1 to 500"},
		{[]string{ringShop, "--minutes", "0.1"}, exitUse, "1 to 600"},
		{[]string{ringShop, "--filter-resistance", "0"}, exitUse, "--filter-resistance"},
		{[]string{ringShop, "--top", "0"}, exitUse, "1 or more"},
		{[]string{aloneShop}, exitFailed, "no machine can be opened"},
	} {
		got := call(t, append([]string{"worth"}, r.args...)...)
		assert.Equal(t, r.code, got.code, "%q: %s", r.args, got.errOut)
		assert.Contains(t, got.errOut, r.says)
	}
}
