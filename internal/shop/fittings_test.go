package shop

import (
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestWordsForFittings reads each word for a fitting, hose, gate and fan at least once.
func TestWordsForFittings(t *testing.T) {
	c := load(t, goodShops+"/fittings.yaml").Collector("annexe")
	parting, tee, wye := c.Junction("saw parting"), c.Junction("saw tee"), c.Junction("sweep wye")
	require.Equal(t, Splitter, parting.Kind)
	require.Equal(t, []string{"cabinet hose", "guard hose"}, []string{parting.Straight, parting.Branch})
	require.InDelta(t, math.Pi/6, parting.Angle, 1e-12)
	require.Equal(t, Wye, tee.Kind, "a tee is a wye of 90°")
	require.InDelta(t, math.Pi/2, tee.Angle, 1e-12)
	require.InDelta(t, 20.0/120, tee.Swept, 1e-12)
	require.True(t, tee.Handbook && wye.Handbook)
	require.Zero(t, wye.Swept)

	hose := c.Run("cabinet hose")
	require.Equal(t, []float64{0.85, 1}, []float64{hose.Pulled, hose.Stretch})
	require.Equal(t, HoseElbow, hose.Fittings[1].Make)
	require.Equal(t, []float64{0, 1.2}, []float64{c.Run("guard hose").Pulled, c.Run("guard hose").Stretch})
	offset := c.Run("saw drop").Fittings
	require.Equal(t, []PairTurn{NoPair, Back}, []PairTurn{offset[0].Pair, offset[1].Pair})
	require.InDelta(t, 250.0/120, offset[1].Spacing, 1e-12, "in diameters")
	twice := c.Run("planer drop").Fittings
	require.Equal(t, []PairTurn{NoPair, NoPair, SameWay, NoPair}, []PairTurn{twice[0].Pair, twice[1].Pair, twice[2].Pair, twice[3].Pair},
		"of two in a row the second follows the first")
	require.Equal(t, Aside, c.Run("trunk").Fittings[1].Pair)
	require.Equal(t, 0.012, c.Run("planer line").Hole)
	require.InDelta(t, 0.1, c.Run("sweep").Fittings[0].RadiusRatio, 1e-12)
	require.Equal(t, OrificeEntry, c.Run("guard hose").Fittings[0].Entry)
	require.Equal(t, 0.06, c.Run("guard hose").Fittings[0].Bore)
}

func TestWordsForGates(t *testing.T) {
	c := load(t, goodShops+"/fittings.yaml").Collector("annexe")
	saw, planer, sweep := c.Gate("saw gate"), c.Gate("planer gate"), c.Gate("sweep gate")
	require.Equal(t, Framed, saw.Kind)
	require.Equal(t, 0.11, saw.Bore)
	require.Equal(t, 0.5, saw.SeatN)
	require.InEpsilon(t, 4.0/3600*math.Sqrt(1500.0/1200), saw.SeatLeak, 1e-12, "at 1500 Pa")
	require.Equal(t, []float64{0.8, 0}, []float64{planer.Opens, planer.SeatN})
	require.InDelta(t, 25.0/3600, planer.SeatLeak, 1e-15)
	require.Equal(t, Butterfly, sweep.Kind)
	for _, g := range []*Gate{saw, planer, sweep} {
		require.True(t, math.IsNaN(g.Open), g.Name)
	}
	plain := load(t, goodShops+"/hand-gates.yaml").Collectors[0].Gates[0]
	require.Equal(t, FullBore, plain.Kind)
	require.Equal(t, openGate, plain.Open)
}

func TestWordsForFans(t *testing.T) {
	f := load(t, goodShops+"/fittings.yaml").Collector("annexe").Fan
	require.InDelta(t, 0.94, f.Running, 1e-12)
	require.Equal(t, 0.88, f.Motor)
	require.Zero(t, f.Points[0].Efficiency)
	require.Equal(t, 0.61, f.Points[2].Efficiency)
	require.True(t, math.IsNaN(f.Points[2].Power))
	in := f.Inlet
	require.Equal(t, GoredElbow, in.Make)
	require.Equal(t, 4, in.Pieces)
	require.Equal(t, []float64{0.2, 1, 2}, []float64{in.Diameter, in.RadiusRatio, in.Straight})
	require.True(t, math.IsNaN(in.Coefficient) && !in.Square)
	plain := load(t, goodShops+"/hand-gates.yaml").Collectors[0].Fan
	require.Equal(t, 1.0, plain.Running)
	require.Nil(t, plain.Inlet)
}

// TestNamedClasses: EN 1507 and EN 16798-3 have the limits of EN 12237; SMACNA's seal classes A, B and C are 3, 6 and
// 12 for round metal duct, and flexible duct that is not sealed is 30 on average (SMACNA HVAC Air Duct Leakage Test
// Manual, 1st ed., Table 4-1 and its note 4; ATC 2 from memory).
func TestNamedClasses(t *testing.T) {
	for name, same := range map[string]string{
		"EN 12237 A": "A", "EN 1507 B": "B", "ATC 5": "A", "ATC 4": "B", "ATC 3": "C", "ATC 2": "D",
		"SMACNA A": "CL 3", "SMACNA B": "CL 6", "SMACNA C": "CL 12", "SMACNA flexible": "CL 30",
	} {
		a, ok := named(name)
		require.True(t, ok, name)
		b, ok := named(same)
		require.True(t, ok, same)
		require.Equal(t, name, a.Class)
		require.Equal(t, []float64{b.C, b.N}, []float64{a.C, a.N}, name)
	}
	smacna, _ := named("SMACNA A")
	en, _ := named("A")
	require.Greater(t, en.C/smacna.C, 6.0, "one letter, two standards: CL 3 is not class A's CL 19.2")
	for _, bad := range []string{"", "ATC 6", "ATC 1", "EN 12237", "EN 12237 E", "SMACNA", "SMACNA D", "a"} {
		_, ok := named(bad)
		require.False(t, ok, bad)
	}
}

// TestTheDriveMovesTheCurve: what is warned about by the fan's curve is so at the speed at which it runs. By the fan laws
// a fan of 2.9 kPa makes 2.56 kPa at 47 of 50 Hz, and 3.16 kPa at 47 of 45 Hz.
func TestTheDriveMovesTheCurve(t *testing.T) {
	text, err := os.ReadFile(goodShops + "/fittings.yaml")
	require.NoError(t, err)
	small := strings.Replace(string(text), "span: 4 kPa", "span: 2.6 kPa", 1)
	_, problems := Parse("small.yaml", []byte(small))
	require.Empty(t, messages(problems))
	_, problems = Parse("fast.yaml", []byte(strings.Replace(small, "plate: 50 Hz", "plate: 45 Hz", 1)))
	require.Contains(t, messages(problems), "its span of 2600 Pa is less than the 3163.51 Pa that the fan makes at shut-off")
	thirsty := strings.Replace(string(text), "machine: planer, needs: 820 m3/h", "machine: planer, needs: 3500 m3/h", 1)
	_, problems = Parse("thirsty.yaml", []byte(thirsty))
	require.Contains(t, messages(problems), "needs 3500 m3/h, and the fan's curve ends at 3384 m3/h")
}
