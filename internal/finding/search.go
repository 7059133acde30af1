package finding

import "slices"

// InSearchOrder returns the places in the order in which looking at them finds the fault soonest on the mean: by probability for each
// of the parts to look at, largest first, what is only "other" last (probability over cost: W. L. Black, Discrete sequential search,
// Information and Control 8, 1965, from memory). Every part is taken to cost as much, and those of a group to be alike. The argument
// is left as it is.
func InSearchOrder(where []Place) []Place {
	out := slices.Clone(where)
	slices.SortStableFunc(out, func(a, b Place) int {
		switch x, y := a.forEachPart(), b.forEachPart(); {
		case x > y:
			return -1
		case x < y:
			return 1
		}
		return 0
	})
	return out
}

// forEachPart is the probability of a place for each part that it holds.
func (p Place) forEachPart() float64 {
	if p.Part == "other" {
		return -1
	}
	return p.Probability / float64(max(len(p.Members), 1))
}
