package main

import (
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// poorShop is a shop in which much is wrong, with prices.
const poorShop = "../../internal/improve/testdata/poor.yaml"

// improved reads the JSON of one call.
func improved(t *testing.T, code int, args ...string) improveJSONShape {
	t.Helper()
	got := call(t, append([]string{"improve", "--json"}, args...)...)
	require.Equal(t, code, got.code, got.errOut)
	var out improveJSONShape
	d := json.NewDecoder(strings.NewReader(got.out))
	d.DisallowUnknownFields()
	require.NoError(t, d.Decode(&out))
	return out
}

// improveJSONShape is what other programs may rely on, written out once more.
type improveJSONShape struct {
	Collectors []struct {
		Name      string
		Sentence  string
		Filter    float64 `json:"filter_resistance_ratio"`
		Transport float64 `json:"transport_velocity_m_s"`
		Bare      float64 `json:"flow_without_ducts_m3_s"`
		Currency  *string
		Sets      []struct {
			Machines []string
			Needed   float64 `json:"needed_m3_s"`
			Beyond   bool    `json:"beyond_collector"`
			Counts   bool
		}
		Short  int
		Nobody bool `json:"nobody_short"`
		Needy  []struct {
			Machine string
			Needed  float64 `json:"needed_m3_s"`
			Least   float64 `json:"least_flow_m3_s"`
			With    []string
			ShortIn int `json:"short_in"`
			OpenIn  int `json:"open_in"`
		}
		Advised []improvedChange
		Not     []improvedChange `json:"not_advised"`
		Steps   []struct {
			improvedChange
			Total *float64 `json:"total_cost"`
			Still []string `json:"still_short"`
		}
		Tried, Idle, Unsolved int
		AlwaysShut            []string `json:"always_shut"`
		WithoutNeed           []string `json:"without_need"`
	}
}

type improvedChange struct {
	Kind, Place, Text string
	Assumes           []string
	Gain              float64 `json:"gain_m3_s"`
	Machines          []struct {
		Machine string
		Gain    float64 `json:"gain_m3_s"`
		With    []string
		B       float64 `json:"before_m3_s"`
		A       float64 `json:"after_m3_s"`
		Needed  float64 `json:"needed_m3_s"`
		Counted int     `json:"counted_in"`
		Served  int     `json:"served_in"`
	}
	Losses []struct {
		Machine string
		With    []string
		Before  float64 `json:"before_m3_s"`
		After   float64 `json:"after_m3_s"`
		Newly   bool    `json:"newly_short"`
	}
	Since []struct {
		With     []string
		Run      *string
		Velocity *float64 `json:"velocity_m_s"`
		Before   *float64 `json:"velocity_before_m_s"`
		Suction  *float64 `json:"suction_pa"`
		Rating   *float64 `json:"rating_pa"`
	}
	Reason *string
	Short  int
	Needs  []struct {
		What     string
		Diameter *float64 `json:"diameter_m"`
		Amount   float64
		Each     *float64
	}
	Cost    *float64
	PerCost *float64 `json:"gain_per_money_m3_s"`
	Without []string `json:"without_price"`
}

func TestImproveJSON(t *testing.T) {
	out := improved(t, exitNotFine, poorShop)
	require.Len(t, out.Collectors, 1)
	c := out.Collectors[0]
	assert.Equal(t, "shed", c.Name)
	assert.InDelta(t, 15, c.Transport, 1e-12)
	assert.Equal(t, "GBP", *c.Currency)
	assert.Len(t, c.Sets, 4+6+1)
	require.NotEmpty(t, c.Advised)
	require.NotEmpty(t, c.Not)
	for i, p := range c.Advised {
		assert.Empty(t, p.Since)
		assert.Nil(t, p.Reason)
		if i > 0 {
			assert.LessOrEqual(t, p.Gain, c.Advised[i-1].Gain, "the most air first")
		}
		sum := 0.0
		for _, g := range p.Machines {
			sum += g.Gain
		}
		assert.InDelta(t, p.Gain, sum, 1e-12)
		if p.Cost != nil {
			total := 0.0
			for _, n := range p.Needs {
				total += n.Amount * *n.Each
			}
			assert.InDelta(t, *p.Cost, total, 1e-9)
		} else {
			assert.NotEmpty(t, p.Without, p.Text)
		}
	}
	for _, p := range c.Not {
		require.NotEmpty(t, p.Since)
		for _, s := range p.Since {
			require.NotNil(t, s.Run)
			assert.Less(t, *s.Velocity, 15.0)
		}
		assert.Contains(t, *p.Reason, "since dust would settle in ")
	}
	assert.NotEmpty(t, c.Steps[len(c.Steps)-1].Still, "which is why the exit code is 1")
}

// TestImproveTable holds what a person reads first, and that refused changes stand apart.
func TestImproveTable(t *testing.T) {
	got := call(t, "improve", poorShop)
	require.Equal(t, exitNotFine, got.code, got.errOut)
	lines := strings.Split(got.out, "\n")
	assert.Equal(t, "collector shed", lines[0])
	assert.Regexp(t, `^First `, lines[1])
	advised, refused, found := strings.Cut(got.out, "\nnot advised\n")
	require.True(t, found)
	assert.Contains(t, advised, "gain m³/h  short    GBP m³/h/GBP  change")
	assert.Contains(t, advised, "one after the other, each with the earlier ones in place")
	assert.NotContains(t, advised, "since dust would settle")
	assert.Contains(t, refused, "since dust would settle in")
	assert.Contains(t, refused, "a clean filter (--filter-resistance for a loaded one)")
	for _, l := range lines {
		assert.LessOrEqual(t, len([]rune(l)), improveWidth, l)
	}
}

// TestImproveWithoutPrices shows no money.
func TestImproveWithoutPrices(t *testing.T) {
	data, err := os.ReadFile(poorShop)
	require.NoError(t, err)
	ducts, _, found := strings.Cut(string(data), "\nprices:\n")
	require.True(t, found)
	path := write(t, "unpriced.yaml", ducts+"\n")
	assert.NotContains(t, call(t, "improve", path).out, "GBP")
	c := improved(t, exitNotFine, path).Collectors[0]
	assert.Nil(t, c.Currency)
	assert.Nil(t, c.Advised[0].Cost)
	assert.Empty(t, c.Advised[0].Without)
}

// TestImproveSetsOfTheOwner judges the sets that are named and no others.
func TestImproveSetsOfTheOwner(t *testing.T) {
	c := improved(t, exitFine, poorShop, "--open", "table saw", "--open", "planer, band saw").Collectors[0]
	require.Len(t, c.Sets, 2)
	assert.Equal(t, []string{"table saw"}, c.Sets[0].Machines)
	assert.Equal(t, []string{"planer", "band saw"}, c.Sets[1].Machines)
	for _, p := range append(c.Advised, c.Not...) {
		for _, l := range p.Losses {
			assert.Contains(t, [][]string{{"table saw"}, {"planer", "band saw"}}, l.With)
		}
	}
}

func TestImproveFilterIsTold(t *testing.T) {
	c := improved(t, exitNotFine, poorShop, "--filter-resistance", "3").Collectors[0]
	assert.InDelta(t, 3, c.Filter, 1e-12)
	assert.Equal(t, "clean filter", c.Advised[0].Kind, "a filter at three times its clean resistance costs most")
	assert.Contains(t, call(t, "improve", poorShop, "--filter-resistance", "3").out, "a filter of 3 times the clean one's resistance")
}

func TestImproveWrongUse(t *testing.T) {
	smallest := "../../testdata/shops/smallest.yaml"
	rows := []struct {
		name string
		args []string
		code int
		says string
	}{
		{"no such machine", []string{poorShop, "--open", "plaener"}, exitUse, `did you mean "planer"?`},
		{"an empty set", []string{poorShop, "--open", " , "}, exitUse, "name at least one machine or gate"},
		{"no rows", []string{poorShop, "--top", "0"}, exitUse, "--top 0"},
		{"a factor of nothing", []string{poorShop, "--filter-resistance", "0"}, exitUse, "--filter-resistance 0"},
		{"air", []string{poorShop, "--air", "20C"}, exitUse, "--air"},
		{"no drawing", []string{smallest}, exitFailed, "no collector has a drawing of its ducts"},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			got := call(t, append([]string{"improve"}, r.args...)...)
			assert.Equal(t, r.code, got.code, got.errOut)
			assert.Contains(t, got.errOut, r.says)
		})
	}
}

// TestImproveServed: the exit code is 0 where nobody is short.
func TestImproveServed(t *testing.T) {
	data, err := os.ReadFile(poorShop)
	require.NoError(t, err)
	text := strings.NewReplacer("needs: 820", "needs: 200", "needs: 1110", "needs: 400", "needs: 570", "needs: 100", "needs: 420", "needs: 100").Replace(string(data))
	got := call(t, "improve", write(t, "served.yaml", text))
	assert.Equal(t, exitFine, got.code, got.errOut)
	assert.Contains(t, got.out, "No machine is short. The tightest is ")
}
