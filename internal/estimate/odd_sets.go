package estimate

import (
	"math"
)

// A gate set that the baseline did not see may lie far from the model, and then each of its runs reads as with one gate more. That
// somebody forgets a gate just when these are open happens once: a set that reads so on several days, and never as told, is so built,
// and what it reads is learnt.
const (
	oddDays  = 2   // on which a set has read so before that is taken for how it is built
	oddRatio = 0.3 // standard deviation of the ratio of such a set before it is learnt: as much as a gate makes
)

// oddSet is a gate set that has read as with one gate more.
type oddSet struct{ Days, Last int } // on how many days, and on which last

// isBuiltOdd takes in that a run of a gate set that was never known reads as with one gate more, and tells whether that is how it is
// built.
func (e *Estimator) isBuiltOdd(g *gateSet) bool {
	if e.cal.variance[g.key] != nil || e.standingLeftOpen() != nil { // it is open in all sets
		return false
	}
	day, odd := len(e.summary), e.cal.odd[g.key]
	if odd.Days >= oddDays && odd.Last < day {
		e.cal.bias[g.key] = append([]float64(nil), e.cal.fresh...)
		wide := make([]float64, len(e.cal.fresh))
		for c := range wide {
			wide[c] = math.Pow(oddRatio, 2)
		}
		e.cal.variance[g.key] = wide
		return true
	}
	if odd.Days == 0 || odd.Last < day {
		odd.Days++
	}
	odd.Last = day
	if e.cal.odd == nil {
		e.cal.odd = map[string]oddSet{}
	}
	e.cal.odd[g.key] = odd
	return false
}
