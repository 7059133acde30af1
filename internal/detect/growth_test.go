package detect

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
)

// TestGrowthFasterThanAnyoneSawIsAStep: four days of 60, each known to 15, look nearly as much like growth of 20 a day from the
// day before as like a step. What is known of how fast things grow decides, and leaves slow growth alone.
func TestGrowthFasterThanAnyoneSawIsAStep(t *testing.T) {
	score := func(growth float64, values ...float64) (step, ramp Score) {
		s := Scan{Before: day(0, 0.2), Onsets: []int{0, 1}, Profiles: []Profile{Step, Ramp},
			Hypotheses: []Hypothesis{{Prior: 100, Growth: growth, Sign: 1, Weight: 1}}}
		for _, v := range values {
			s.Days = append(s.Days, day(v, 15))
		}
		scores := s.Run()
		require.Len(t, scores, 4)
		for _, sc := range scores {
			best := &step
			if sc.Profile == Ramp {
				best = &ramp
			}
			if best.Variance == 0 || sc.Evidence > best.Evidence {
				*best = sc
			}
		}
		return step, ramp
	}
	step, free := score(0, 8, 52, 58, 63, 68)
	assert.InDelta(t, step.Evidence, free.Evidence, 3, "nothing is known of growth")
	_, held := score(2, 8, 52, 58, 63, 68)
	assert.Greater(t, step.Evidence, held.Evidence+8)
	assert.Less(t, held.Size, free.Size)

	slow := make([]float64, 60)
	for i := range slow {
		slow[i] = 0.7 * float64(i+1)
	}
	_, free = score(0, slow...)
	_, held = score(2, slow...)
	assert.InEpsilon(t, free.Size, held.Size, 0.01)
	assert.InDelta(t, free.Evidence, held.Evidence, 0.5)
}

// day is what one day says of one parameter: a value with its standard error.
func day(value, se float64) Information {
	return Information{Lambda: mat.NewSymDense(1, []float64{1 / (se * se)}), Eta: mat.NewVecDense(1, []float64{value / (se * se)})}
}
