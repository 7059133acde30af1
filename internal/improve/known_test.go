package improve

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestPlainTroubleComesFirst: shops in which one thing is wrong, so that anybody sees what to do.
func TestPlainTroubleComesFirst(t *testing.T) {
	two := head + `    machines: [{machine: planer, needs: 1100 m3/h}, {machine: lathe, needs: 700 m3/h}]
    gates: [{gate: planer gate, position: by hand}, {gate: lathe gate, position: by hand}]
    transport_velocity: 12 m/s
    ducts:
      tightness: C
      runs:
        - {run: planer drop, from: planer, to: wye, diameter: 140 mm, length: 4 m, gate: planer gate, fittings: [{measured: {drop: 400 Pa, flow: 1100 m3/h}}]}
        - {run: lathe drop, from: lathe, to: wye, diameter: 80 mm, length: 9 m, gate: lathe gate, fittings: [{measured: {drop: 300 Pa, flow: 700 m3/h}}]}
        - {run: trunk, from: wye, to: collector, diameter: 140 mm, length: 5 m}
      junctions: [{junction: wye, kind: wye, angle: 45 deg, straight: planer drop, branch: lathe drop}]
`
	rows := []struct {
		name, text string
		kind       Kind
		says       string
	}{
		{"a mitred elbow in the only drop",
			one("1000 m3/h", "diameter: 120 mm, length: 3 m, fittings: [{measured: {drop: 900 Pa, flow: 880 m3/h}}, {elbow: 90 deg, make: mitred}]"),
			EasierElbow, "mitred 90° elbow in saw drop"},
		{"six metres of hose that is pushed together",
			one("1000 m3/h", "diameter: 120 mm, length: 6 m, material: flexible hose, stretch: 70 %, fittings: [{measured: {drop: 900 Pa, flow: 880 m3/h}}]"),
			HoseToPipe, "6 m of flexible hose in saw drop"},
		{"a plain duct end", one("1400 m3/h", "diameter: 120 mm, length: 2 m, fittings: [{entry: plain}]"), BetterEntry, "plain entry of saw drop a bell mouth"},
		{"a drop of 80 mm for 700 m³/h", two, LargerDrop, "112 mm instead of 80 mm from lathe"},
		{"sixty metres of seams that leak like a sieve",
			one("1000 m3/h", "diameter: 120 mm, length: 60 m, tightness: {leak: 20 l/s/m2, at: 1 kPa}, fittings: [{measured: {drop: 100 Pa, flow: 880 m3/h}}]"),
			Seal, "seal the seams of saw drop to class C"},
		{"a gate that opens to a third",
			replaced(t, one("1000 m3/h", "diameter: 120 mm, length: 3 m, fittings: [{measured: {drop: 600 Pa, flow: 880 m3/h}}]"),
				"{gate: saw gate, ", "{gate: saw gate, opens: 35 %, "), FreeGate, "mend saw gate so that it opens fully"},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			a, err := Of(read(t, r.text).Collectors[0], Question{})
			require.NoError(t, err)
			require.NotEmpty(t, a.Advised, "%+v", a.Refused)
			assert.Equal(t, r.kind, a.Advised[0].Kind, a.Advised[0].Text)
			assert.Contains(t, a.Advised[0].Text, r.says)
			assert.Contains(t, a.First(), r.says)
			assert.Empty(t, a.Lost)
		})
	}
}

// TestTwoHalvesOfAMitredElbow: two 45° elbows with a straight piece between lose less than one mitred 90°, and no less
// than one of long radius (common practice, no source), and the proposals come in that order.
func TestTwoHalvesOfAMitredElbow(t *testing.T) {
	a, err := Of(read(t, one("1000 m3/h", "diameter: 120 mm, length: 3 m, fittings: [{measured: {drop: 900 Pa, flow: 880 m3/h}}, {elbow: 90 deg, make: mitred}]")).Collectors[0], Question{})
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(a.Advised), 2)
	assert.Contains(t, a.Advised[0].Text, "by one of long radius")
	assert.Contains(t, a.Advised[1].Text, "by two of 45°")
	assert.Less(t, a.Advised[1].Gain, a.Advised[0].Gain)
	assert.Greater(t, a.Advised[1].Gain, 0.8*a.Advised[0].Gain)
	assert.Equal(t, a.Advised[0].Place, a.Advised[1].Place, "they are alternatives")
}

// TestNobodyIsShort ranks by what the tightest machine gains, and says so.
func TestNobodyIsShort(t *testing.T) {
	a, err := Of(read(t, one("500 m3/h", "diameter: 120 mm, length: 3 m, fittings: [{entry: plain}, {elbow: 90 deg, make: mitred}]")).Collectors[0], Question{})
	require.NoError(t, err)
	assert.True(t, a.Tight)
	assert.Zero(t, a.Short)
	assert.True(t, a.Served())
	assert.Len(t, a.Needy, 1)
	assert.Contains(t, a.First(), "No machine is short. The tightest is saw")
	require.NotEmpty(t, a.Advised)
	assert.Len(t, a.Steps, 1, "there is nothing that more steps would have to reach")
}

func TestNoNeeds(t *testing.T) {
	c := load(t, "../../testdata/shops/trunk-three-drops.yaml").Collectors[0]
	a, err := Of(c, Question{})
	require.NoError(t, err)
	assert.Contains(t, a.First(), `write "needs" in the shop file`)
	assert.Empty(t, a.Advised)
	assert.Equal(t, []string{"saw", "band", "planer"}, a.Unstated)
}
