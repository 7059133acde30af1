package detect

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/integrate/quad"
)

// integrated computes the evidence by quadrature: log ∫ exp(v·x − i·x²/2) q(x) dx, the largest value of the exponent
// taken out first.
func integrated(v, i, sd, sign float64) float64 {
	log := func(x float64) float64 {
		l := v*x - i*x*x/2 - x*x/(2*sd*sd) - math.Log(sd*math.Sqrt(2*math.Pi))
		if sign != 0 {
			l += math.Ln2 // the prior's other half is on this side
		}
		return l
	}
	post := i + 1/(sd*sd)
	mode, width := v/post, 1/math.Sqrt(post)
	lo, hi := mode-12*width, mode+12*width
	if sign > 0 {
		lo = max(lo, 0)
		hi = max(hi, lo+40*width/math.Max(1, math.Abs(v)*width))
	}
	if sign < 0 {
		hi = min(hi, 0)
		lo = min(lo, hi-40*width/math.Max(1, math.Abs(v)*width))
	}
	top := log(min(max(mode, lo), hi))
	return top + math.Log(quad.Fixed(func(x float64) float64 { return math.Exp(log(x) - top) }, lo, hi, 400, nil, 0))
}

// TestEvidenceAgainstQuadrature, with the data for, against and far against the sign.
func TestEvidenceAgainstQuadrature(t *testing.T) {
	for _, c := range []struct {
		name           string
		v, i, sd, sign float64
	}{
		{"nothing seen, either sign", 0, 0, 2, 0},
		{"nothing seen, one sign", 0, 0, 2, 1},
		{"seen, either sign", 30, 10, 2, 0},
		{"as the sign says", 30, 10, 2, 1},
		{"as the other sign says", -30, 10, 2, -1},
		{"against the sign", -30, 10, 2, 1},
		{"barely against it", -0.3, 10, 0.5, 1},
		{"far against it", -400, 100, 2, 1},
		{"farther than a normal law's tail has numbers", -600, 100, 2, 1},
		{"the same, mirrored", 600, 100, 2, -1},
		{"a narrow prior", 5, 1, 0.01, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.InDelta(t, integrated(c.v, c.i, c.sd, c.sign), evidence(c.v, c.i, c.sd, c.sign), 1e-6)
		})
	}
}

// TestEvidenceAgainstASignIsNeverForIt, however far the data are on the other side.
func TestEvidenceAgainstASignIsNeverForIt(t *testing.T) {
	last := 0.0
	for z := 0.0; z < 1e4; z = 1.5*z + 1 {
		e := evidence(-z*10, 100, 1, 1)
		assert.Less(t, e, last, "z = %v", z)
		last = e
	}
}

// TestLogHalfMeetsItself where the series takes over.
func TestLogHalfMeetsItself(t *testing.T) {
	assert.InDelta(t, logHalf(-20+1e-9), logHalf(-20), 1e-9)
}
