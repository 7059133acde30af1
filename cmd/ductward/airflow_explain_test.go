package main

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// pathKeys are the keys of --explain that other programs rely on.
var pathKeys = []string{
	"collectors[].paths[].machine", "collectors[].paths[].flow_m3_s", "collectors[].paths[].fan_rise_pa",
	"collectors[].paths[].fan_inlet_loss_pa",
	"collectors[].paths[].elements[].step", "collectors[].paths[].elements[].kind", "collectors[].paths[].elements[].name",
	"collectors[].paths[].elements[].run", "collectors[].paths[].elements[].what", "collectors[].paths[].elements[].words",
	"collectors[].paths[].elements[].line", "collectors[].paths[].elements[].flow_m3_s",
	"collectors[].paths[].elements[].velocity_m_s", "collectors[].paths[].elements[].diameter_m",
	"collectors[].paths[].elements[].length_m", "collectors[].paths[].elements[].loss_coefficient",
	"collectors[].paths[].elements[].loss_pa", "collectors[].paths[].elements[].loss_share",
}

// explained is the part of the JSON of --explain that the tests look at.
type explained struct {
	Collectors []struct {
		Fan struct {
			Rise float64 `json:"pressure_rise_pa"`
		}
		Paths []struct {
			Machine  string
			Elements []struct {
				Step  int
				Kind  string
				Words string
				Loss  float64 `json:"loss_pa"`
				Share float64 `json:"loss_share"`
			}
		}
	}
}

func TestExplainAddsUpToTheFan(t *testing.T) {
	got := call(t, "airflow", elmLane, "--open", "panel saw,planer", "--explain", "panel saw", "--explain", "planer", "--json")
	require.Equal(t, exitFine, got.code, got.errOut)
	keys := keysOf(t, got.out)
	for _, k := range append(pathKeys, contractKeys...) {
		assert.True(t, keys[k], "the key %s is missing", k)
	}
	var e explained
	require.NoError(t, json.Unmarshal([]byte(got.out), &e))
	c := e.Collectors[0]
	require.Len(t, c.Paths, 2)
	for i, machine := range []string{"panel saw", "planer"} {
		p := c.Paths[i]
		assert.Equal(t, machine, p.Machine)
		loss, share := 0.0, 0.0
		for k, element := range p.Elements {
			assert.Equal(t, k+1, element.Step, "in the order of the way")
			loss += element.Loss
			share += element.Share
		}
		assert.InEpsilon(t, c.Fan.Rise, loss, 1e-6, "Pa")
		assert.InEpsilon(t, 1, share, 1e-6)
	}
	assert.Equal(t, "hood under the table", c.Paths[1].Elements[0].Words)
	assert.Equal(t, "hood", c.Paths[1].Elements[0].Kind)
}

// TestExplainTable has the worst on top and no line that a terminal of 100 columns would break.
func TestExplainTable(t *testing.T) {
	got := call(t, "airflow", elmLane, "--open", "planer", "--explain", "planer", "--filter-resistance", "6")
	require.Equal(t, exitFine, got.code, got.errOut)
	golden(t, "airflow-explain.txt", got.out)
	_, table, _ := strings.Cut(got.out, "loss coeff.\n")
	first, _, _ := strings.Cut(table, "\n")
	assert.Contains(t, first, "filter, its medium", "six times the clean resistance costs more than all else")
}

func TestExplainWrongUse(t *testing.T) {
	rows := []struct {
		name string
		args []string
		says []string
	}{
		{"a machine that is shut", []string{"--open", "planer", "--explain", "panel saw"},
			[]string{`machine "panel saw" is not joined`, `gate "saw gate" is shut`, `--open "panel saw"`}},
		{"nothing open", []string{"--explain", "planer"}, []string{`gate "planer gate" is shut`}},
		{"a machine that is not there", []string{"--open", "planer", "--explain", "lathe"}, []string{`"lathe"`, "panel saw, planer"}},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			got := call(t, append([]string{"airflow", elmLane}, r.args...)...)
			assert.Equal(t, exitUse, got.code)
			assert.Empty(t, got.out)
			for _, s := range r.says {
				assert.Contains(t, got.errOut, s)
			}
		})
	}
}

// TestExplainOfTwoCollectors holds that a machine that both have must say whose it is.
func TestExplainOfTwoCollectors(t *testing.T) {
	one, err := os.ReadFile(elmLane)
	require.NoError(t, err)
	head, body, _ := strings.Cut(string(one), "  - collector: main\n")
	path := write(t, "two.yaml", head+"  - collector: hall\n"+body+"  - collector: loft\n"+strings.NewReplacer(
		"saw gate", "loft saw gate", "planer gate", "loft planer gate", "GPIO4,", "GPIO5,", "GPIO17", "GPIO22", "GPIO27", "GPIO23",
		"address: 0x28", "address: 0x48", "address: 0x38", "address: 0x58").Replace(body))
	got := call(t, "airflow", path, "--open", "hall/planer", "--explain", "planer")
	assert.Equal(t, exitUse, got.code)
	assert.Contains(t, got.errOut, `write "hall/planer"`)
	got = call(t, "airflow", path, "--open", "hall/planer", "--explain", "hall/planer")
	require.Equal(t, exitFine, got.code, got.errOut)
	assert.Contains(t, got.out, "planer, collector hall: ")
	got = call(t, "airflow", path, "--open", "hall/planer", "--explain", "loft/planer")
	assert.Equal(t, exitUse, got.code)
	assert.Contains(t, got.errOut, `gate "loft planer gate" is shut`)
}

// TestTableOfALargeShop holds that what is in use is told run by run and the rest in one sentence, within 100 columns.
func TestTableOfALargeShop(t *testing.T) {
	demo := "../../hardware/rig/shop.yaml"
	got := call(t, "airflow", demo, "--open", "thicknesser,mortiser")
	require.Equal(t, exitFine, got.code, got.errOut)
	for line := range strings.Lines(got.out) {
		assert.LessOrEqual(t, utf8.RuneCountInString(line), 100, line)
	}
	rows := func(out string) (names []string) {
		_, table, _ := strings.Cut(out, "\nrun ")
		table, _, _ = strings.Cut(table, "\nshare:")
		for _, line := range strings.Split(table, "\n")[1:] {
			names = append(names, strings.TrimSpace(line[:18]))
		}
		return names
	}
	assert.Equal(t, []string{"thicknesser hose", "thicknesser drop", "trunk 1", "trunk 2", "trunk 3", "trunk 4", "trunk 5",
		"mortiser hose", "mortiser drop", "trunk 6", "trunk 7", "trunk 8", "trunk 9", "trunk 10"}, rows(got.out), "in the order of the file")
	assert.Contains(t, got.out, "No machine's air goes through 13 other runs")
	assert.Contains(t, got.out, "smaller ones")

	all := call(t, "airflow", demo, "--open", "thicknesser,mortiser", "--all")
	assert.Len(t, rows(all.out), 27)
	assert.NotContains(t, all.out, "smaller ones")
	shut := call(t, "airflow", demo)
	assert.Len(t, rows(shut.out), 27, "with nothing open the suction of every run is what is asked")
}

// TestDustIsFlagged: two machines at the far end leave the demo's 200 mm trunk below the shop's own 15 m/s.
func TestDustIsFlagged(t *testing.T) {
	got := call(t, "airflow", "../../hardware/rig/shop.yaml", "--open", "thicknesser,mortiser")
	for line := range strings.Lines(got.out) {
		switch {
		case strings.HasPrefix(line, "trunk 3"), strings.HasPrefix(line, "trunk 4"), strings.HasPrefix(line, "trunk 5"):
			assert.True(t, strings.HasSuffix(line, "  dust\n"), line)
		case strings.HasPrefix(line, "trunk"), strings.HasPrefix(line, "thicknesser"), strings.HasPrefix(line, "mortiser"):
			assert.False(t, strings.HasSuffix(line, "  dust\n"), line)
		}
	}
	assert.Contains(t, got.out, "slower than 15 m/s")
	assert.Contains(t, got.out, "TRGS 553")
	shut := call(t, "airflow", "../../hardware/rig/shop.yaml")
	assert.NotContains(t, shut.out, "TRGS 553", "where nothing is cut there is no dust")
}

func TestShortMachinesAndRatingsAreFlagged(t *testing.T) {
	text, err := os.ReadFile(elmLane)
	require.NoError(t, err)
	path := write(t, "weak.yaml", strings.NewReplacer("needs: 850", "needs: 3000", "rating: 3 kPa", "rating: 1.5 kPa").Replace(string(text)))
	got := call(t, "airflow", path, "--open", "panel saw")
	require.Equal(t, exitFine, got.code, got.errOut)
	assert.Regexp(t, `panel saw +open +\d+ +3000 +\d+ % +short\n`, got.out)
	assert.Regexp(t, `trunk .* over 1500 Pa\n`, got.out)
	assert.Regexp(t, `planer drop .* over 1500 Pa\n`, got.out, "a run that is not used must bear the suction too")
}

// TestExplainTellsAPoorInlet: an elbow of four pieces two diameters before the fan of the annexe takes 0.66 of the velocity
// pressure in its 200 mm inlet from the rise (ASHRAE 1988 after AMCA 201, from memory: r/D 1, two diameters).
func TestExplainTellsAPoorInlet(t *testing.T) {
	annexe := "../../testdata/shops/fittings.yaml"
	got := call(t, "airflow", annexe, "--open", "planer", "--explain", "planer", "--json")
	require.Equal(t, exitFine, got.code, got.errOut)
	var e struct {
		Collectors []struct {
			Fan struct {
				Flow  float64 `json:"flow_m3_s"`
				Shaft float64 `json:"power_w"`
				Motor float64 `json:"motor_power_w"`
			}
			Paths []struct {
				Inlet float64 `json:"fan_inlet_loss_pa"`
			}
		}
	}
	require.NoError(t, json.Unmarshal([]byte(got.out), &e))
	fan := e.Collectors[0].Fan
	v := fan.Flow / (math.Pi / 4 * 0.2 * 0.2)
	assert.InEpsilon(t, 0.66*1.2/2*v*v, e.Collectors[0].Paths[0].Inlet, 0.03, "Pa in air of about 1.2 kg/m³")
	assert.InEpsilon(t, fan.Shaft/0.88, fan.Motor, 1e-9, "W: motor and drive of 88 %")
	got = call(t, "airflow", annexe, "--open", "planer", "--explain", "planer")
	assert.Contains(t, got.out, "its poor inlet has taken")
	got = call(t, "airflow", annexe, "--open", "planer")
	assert.Contains(t, got.out, "kW into the motor")
}

func TestColumnsAndParagraphs(t *testing.T) {
	var b strings.Builder
	tab := &table{heads: []string{"run", "m³/h", "<"}}
	tab.add("saw", "1200", "dust")
	tab.add("planer drop", "7", "")
	require.NoError(t, tab.write(&b))
	assert.Equal(t, "run          m³/h\nsaw          1200  dust\nplaner drop     7\n", b.String())
	for line := range strings.Lines(paragraph(strings.Repeat("dust settles ", 40))) {
		assert.LessOrEqual(t, utf8.RuneCountInString(strings.TrimSuffix(line, "\n")), textWidth)
	}
	assert.Equal(t, "one\n", paragraph(" one "))
	assert.Equal(t, "hood", cutTo("hood", 4))
	assert.Equal(t, "hood…", cutTo("hood, and cover", 7))
}
