package shop

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// leak is the leakage of a square metre in l/s.
func leak(l Leakage, dp float64) float64 { return l.C * math.Pow(dp, l.N) * 1000 }

// TestTightnessClasses: limits computed from the factors of EN 12237 (0.027, 0.009, 0.003, 0.001 l/s per m² times
// Δp^0.65) by a pocket calculator.
func TestTightnessClasses(t *testing.T) {
	want := map[string]struct{ dp, leak float64 }{"A": {400, 1.326}, "B": {400, 0.4422}, "C": {1500, 0.348}, "D": {2000, 0.1399}}
	for _, c := range Classes {
		w := want[c.Name]
		require.InEpsilon(t, w.leak, leak(Leakage{C: c.C, N: leakExponent}, w.dp), 5e-4, "class %s at %g Pa, l/s per m²", c.Name, w.dp)
	}
	a := Classes[0]
	require.InEpsilon(t, 19.68, 6.283*leak(Leakage{C: a.C, N: leakExponent}, 1500), 1e-3, "10 m of 200 mm duct, class A, 1500 Pa, l/s")
}

// TestSmacnaClasses: F = CL·p^0.65, cfm per 100 ft² and inches of water (SMACNA HVAC Air Duct Leakage Test Manual). One
// cfm per 100 ft² is 0.0508 l/s per m², one inch of water 249.089 Pa.
func TestSmacnaClasses(t *testing.T) {
	six, ok := smacna("CL 6")
	require.True(t, ok)
	require.InEpsilon(t, 14.77*0.0508, leak(six, 4*249.089), 1e-3, "CL 6 at 4 in. of water")
	// Class A of EN 12237 is CL 19.2.
	a, ok := smacna("CL 19.2")
	require.True(t, ok)
	require.InEpsilon(t, Classes[0].C, a.C, 2e-3)
	for _, bad := range []string{"CL", "CL -3", "CL x", "12", "CL 1e9", "CL NaN"} {
		_, ok := smacna(bad)
		require.False(t, ok, bad)
	}
}

func TestStatedLeakage(t *testing.T) {
	l := load(t, goodShops+"/ring-main.yaml").Collectors[0].Run("riser").Tightness
	require.InDelta(t, 0.4, leak(l, 1000), 1e-12, "as stated, l/s per m²")
	require.Equal(t, 0.6, l.N)
}

// TestMaterials holds the roughness of each material against the range of the ASHRAE table of duct roughness factors:
// galvanised round 0.05 to 0.10 mm (category 0.09), spiral 0.06 to 0.12, PVC 0.01 to 0.05, flexible 0.09 to 0.9 mm.
func TestMaterials(t *testing.T) {
	ranges := map[string][2]float64{
		"galvanised": {0.049, 0.098}, "galvanised spiral": {0.06, 0.12}, "pvc": {0.009, 0.046}, "steel welded": {0.01, 0.1},
		"flexible hose": {0.09, 0.9}, "smooth-bore hose": {0.09, 0.9},
		// From memory: 0.0005 ft for short joints, medium smooth 0.00015 ft, concrete 0.001 to 0.01 ft.
		"galvanised short joints": {0.15, 0.16}, "aluminium": {0.04, 0.06}, "stainless steel": {0.04, 0.06}, "concrete": {0.3, 3},
	}
	require.Len(t, Materials, len(ranges))
	for _, m := range Materials {
		r, ok := ranges[m.Name]
		require.True(t, ok, m.Name)
		require.GreaterOrEqual(t, m.Roughness*1000, r[0]*0.999, m.Name)
		require.LessOrEqual(t, m.Roughness*1000, r[1]*1.001, m.Name)
		require.NotEmpty(t, m.Source)
	}
}
