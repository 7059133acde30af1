package improve

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/duct"
	"ductward/internal/shop"
	"ductward/internal/verdict"
)

// byHand are changes of the poor shop that are drawn twice: by a proposal, and by hand in the text of the file.
var byHand = []struct {
	name, says string   // the proposal
	edit       []string // old, new, old, new …
}{
	{"hose to pipe", "replace the 4 m of flexible hose in saw hose by smooth pipe",
		[]string{"          material: flexible hose\n          stretch: 80 %\n", ""}},
	{"stretched hose", "pull the hose of saw hose out straight", []string{"stretch: 80 %", "stretch: 100 %"}},
	{"two elbows of long radius", "the 2 mitred 90° elbows in saw drop by ones of long radius",
		[]string{"fittings: [{elbow: 90 deg, make: mitred, times: 2}]", "fittings: [{elbow: 90 deg, make: smooth, radius: 1.5, times: 2}]"}},
	{"one elbow by two", "mitred 90° elbow in trunk 2 by two of 45°",
		[]string{"fittings: [{elbow: 90 deg, make: mitred}]", "fittings: [{elbow: 45 deg, make: smooth, radius: 1.5}, {elbow: 45 deg, make: smooth, radius: 1.5, after: {straight: 3, turns: same way}}]"}},
	{"tee to wye", "replace the tee saw tee by a wye of 45°",
		[]string{"{junction: saw tee, kind: tee,", "{junction: saw tee, kind: wye, angle: 45 deg,",
			"fittings: [{elbow: 90 deg, make: mitred, times: 2}]", "fittings: [{elbow: 90 deg, make: mitred, times: 2}, {elbow: 45 deg, make: smooth, radius: 1.5}]"}},
	{"tapered step", "taper the step from 160 mm to 200 mm in trunk 3", []string{"{to: 200 mm, angle: 180 deg}", "{to: 200 mm, angle: 30 deg}"}},
	{"bell mouth", "plain entry of band drop a bell mouth", []string{"[{entry: plain}, {elbow: 90 deg, make: smooth, radius: 0.75}]", "[{entry: bellmouth}, {elbow: 90 deg, make: smooth, radius: 0.75}]"}},
	{"sealed trunk", "seal the seams of the trunk to class B",
		[]string{"diameter: 160 mm, length: 5 m}", "diameter: 160 mm, length: 5 m, tightness: B}", "length: 4 m, hole", "length: 4 m, tightness: B, hole",
			"length: 2 m, fittings", "length: 2 m, tightness: B, fittings", "diameter: 200 mm, length: 3 m}", "diameter: 200 mm, length: 3 m, tightness: B}"}},
	{"closed hole", "close the hole of 15 mm", []string{"hole: 15 mm, ", ""}},
	{"tight gate", "replace the saw gate by", []string{"seat_leak: 20 m3/h", "seat_leak: 1 m3/h"}},
	{"slide for a butterfly", "replace the butterfly planer gate", []string{"kind: butterfly, ", ""}},
	{"free bore", "replace band gate, whose frame leaves 85 mm", []string{"kind: framed, bore: 85 mm, ", ""}},
	{"larger filter", "put in 24 m² of filter instead of 16 m²", []string{"clean: {drop: 500 Pa, flow: 2000 m3/h}", "clean: {drop: 500 Pa, flow: 3000 m3/h}"}},
	{"fan inlet", "lead the duct straight into the fan", []string{"      inlet: {diameter: 200 mm, elbow: mitred, straight: 0}\n", ""}},
	{"larger drop", "put in 140 mm instead of 120 mm from table saw to the trunk, hose included",
		[]string{"to: saw drop\n          diameter: 120 mm", "to: saw drop\n          diameter: 140 mm", "to: saw tee\n          diameter: 120 mm", "to: saw tee\n          diameter: 140 mm"}},
	{"large pipe to the hose", "carry 160 mm pipe from the trunk to the hose of table saw",
		[]string{"[{measured: {drop: 600 Pa, flow: 820 m3/h}}]", "[{measured: {drop: 600 Pa, flow: 820 m3/h}}, {expansion: {to: 160 mm, angle: 30 deg}}]",
			"to: saw tee\n          diameter: 120 mm", "to: saw tee\n          diameter: 160 mm"}},
	{"large pipe to the last metre", "carry 160 mm pipe from the trunk to within 1 m of planer",
		[]string{"          to: saw tee\n          diameter: 125 mm\n          length: 6 m\n", "          to: planer large\n          diameter: 125 mm\n          length: 1 m\n",
			"            - {elbow: 90 deg, make: gored, pieces: 3, radius: 1}\n            - {expansion: {to: 160 mm, angle: 90 deg}}\n",
			"            - {expansion: {to: 160 mm, angle: 30 deg}}\n        - run: planer large\n          to: saw tee\n          diameter: 160 mm\n          length: 5 m\n          fittings: [{elbow: 90 deg, make: gored, pieces: 3, radius: 1}]\n",
			"straight: planer drop", "straight: planer large"}},
	{"larger trunk with its ends", "put in 180 mm instead of 160 mm in the trunk, trunk 1 to trunk 3",
		[]string{"{expansion: {to: 160 mm, angle: 90 deg}}", "{expansion: {to: 180 mm, angle: 90 deg}}", "to: band tee, diameter: 160 mm, length: 5 m", "to: band tee, diameter: 180 mm, length: 5 m",
			"to: router tee, diameter: 160 mm", "to: router tee, diameter: 180 mm", "to: trunk 4, diameter: 160 mm", "to: trunk 4, diameter: 180 mm"}},
	{"a step that goes away", "put in 200 mm instead of 160 mm in the trunk, trunk 1 to trunk 3",
		[]string{"{expansion: {to: 160 mm, angle: 90 deg}}", "{expansion: {to: 200 mm, angle: 90 deg}}", "to: band tee, diameter: 160 mm, length: 5 m", "to: band tee, diameter: 200 mm, length: 5 m",
			"to: router tee, diameter: 160 mm", "to: router tee, diameter: 200 mm", "to: trunk 4, diameter: 160 mm, length: 2 m, fittings: [{expansion: {to: 200 mm, angle: 180 deg}}]", "to: trunk 4, diameter: 200 mm, length: 2 m"}},
	{"a larger end at the collector", "put in 224 mm instead of 200 mm in the trunk, trunk 4",
		[]string{"{expansion: {to: 200 mm, angle: 180 deg}}", "{expansion: {to: 224 mm, angle: 180 deg}}", "{run: trunk 4, to: collector, diameter: 200 mm, length: 3 m}",
			"{run: trunk 4, to: last, diameter: 224 mm, length: 3 m}\n        - {run: last, to: collector, diameter: 200 mm, length: 200 mm, fittings: [{contraction: {from: 224 mm, angle: 30 deg}}]}"}},
}

// TestGainsAreThoseOfDrawingsByHand: what a proposal brings is what a solve of the drawing changed by hand brings.
func TestGainsAreThoseOfDrawingsByHand(t *testing.T) {
	poor := load(t, "testdata/poor.yaml")
	a, err := Of(poor.Collectors[0], Question{})
	require.NoError(t, err)
	require.Zero(t, a.Lost)
	list := changes(poor.Collectors[0], 1)
	text := string(poor.Raw)
	before := gainsByHand(t, text, a.Sets)
	for _, row := range byHand {
		t.Run(row.name, func(t *testing.T) {
			var ch change
			found := 0
			for _, c := range list {
				if strings.Contains(c.text, row.says) {
					ch = c
					found++
				}
			}
			require.Equal(t, 1, found, "proposals that say %q", row.says)
			edited := text
			for i := 0; i < len(row.edit); i += 2 {
				edited = replaced(t, edited, row.edit[i], row.edit[i+1])
			}
			require.NotEqual(t, text, edited)
			after := gainsByHand(t, edited, a.Sets)
			tried := tryOne(newDraft(poor.Collectors[0], 1), ch, a.Sets, duct.State{})
			require.NoError(t, tried.err)
			for i := range a.Sets {
				for k := range after[i] {
					assert.InDelta(t, after[i][k], tried.trial[i].flow[k], 1e-9, "m³/s, machine %d in set %s", k, a.Sets[i].Name())
				}
			}
			gain := meanGain(poor.Collectors[0], a.Sets, before, after)
			_, got := aimAt(poor.Collectors[0], a.Sets, base(t, poor.Collectors[0], a.Sets)).gains(poor.Collectors[0], a.Sets, base(t, poor.Collectors[0], a.Sets), tried.trial)
			assert.InDelta(t, gain, got, 1e-9, "m³/s")
		})
	}
}

func base(t *testing.T, c *shop.Collector, sets []Set) trial {
	t.Helper()
	out, err := newDraft(c, 1).try(sets, duct.State{})
	require.NoError(t, err)
	return out
}

// gainsByHand solves a shop's text in the sets, with the model alone: the flow by set and machine.
func gainsByHand(t *testing.T, text string, sets []Set) [][]float64 {
	t.Helper()
	c := read(t, text).Collectors[0]
	m, err := duct.New(c)
	require.NoError(t, err)
	var out [][]float64
	for _, s := range sets {
		st, err := verdict.Opening(c, s.Machines...)
		require.NoError(t, err)
		r, err := m.Solve(duct.State{Setting: st})
		require.NoError(t, err)
		var flows []float64
		for _, machine := range r.Machines {
			flows = append(flows, machine.Flow)
		}
		out = append(out, flows)
	}
	return out
}

// meanGain is the gain by its definition, written out once more: by machine the mean over the sets that are not beyond
// the collector and in which it is open and short, and the sum of these.
func meanGain(c *shop.Collector, sets []Set, before, after [][]float64) float64 {
	sum := 0.0
	for k, m := range c.Machines {
		gained, spots := 0.0, 0
		for i, s := range sets {
			for _, open := range s.Machines {
				if open == m.Name && !s.Beyond && before[i][k] < m.Needs {
					gained += after[i][k] - before[i][k]
					spots++
				}
			}
		}
		if spots > 0 {
			sum += gained / float64(spots)
		}
	}
	return sum
}
