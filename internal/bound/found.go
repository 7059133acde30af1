package bound

import (
	"math"

	"ductward/internal/detect"
)

// Family is the promise that all alarms together keep.
type Family struct {
	PerYear    float64 // false alarms
	Share      float64 // of it that changes may use; the rest is for the filter, the air and the sensors
	DaysAYear  float64 // of work
	Window     int     // days back over which onsets are tried
	Directions int     // independent questions that are asked of the record
}

// FamilyOf returns the family of a response's changes: leakage of the trunk and of each drop, both as a step and as growth,
// the loss of each drop and of the trunk, the fan, and each sensor. Half of the promise is the changes'.
func FamilyOf(r *Response, perYear float64) Family {
	drops := len(r.Of(func(c Change) bool { return c.Kind == Block }))
	return Family{PerYear: perYear, Share: 0.5, DaysAYear: 250, Window: 60, Directions: 2*(1+drops) + drops + 2 + len(r.fitted())}
}

// Threshold returns how many standard deviations a change must be seen by.
func (f Family) Threshold() float64 {
	return detect.Threshold(f.PerYear*f.Share/f.DaysAYear, f.Window, f.Directions)
}

// Power returns the probability that a change of a size crosses a threshold, by a contrast that is best for that size. How
// otherwise it may show makes its contrast uncertain, and does not raise the threshold, which holds while nothing is there.
func (s *Space) Power(change int, size, threshold float64) float64 {
	return newWays(s, change).power(size, threshold, s.scale)
}

// MeanPower returns the mean of Power over changes of one size.
func (s *Space) MeanPower(changes []int, size, threshold float64) float64 {
	return meanPower(s.waysOf(changes), size, threshold, s.scale)
}

// waysOf prepares changes.
func (s *Space) waysOf(changes []int) []*ways {
	var out []*ways
	for _, k := range changes {
		out = append(out, newWays(s, k))
	}
	return out
}

func meanPower(all []*ways, size, threshold, scale float64) float64 {
	sum := 0.0
	for _, w := range all {
		sum += w.power(size, threshold, scale)
	}
	return sum / float64(len(all))
}

// Smallest returns the size at which a change in one of several places, all equally likely, is found with a probability;
// +Inf where none up to limit is.
func (s *Space) Smallest(changes []int, power, threshold, limit float64) float64 {
	all := s.waysOf(changes)
	if len(changes) == 0 || meanPower(all, limit, threshold, s.scale) < power {
		return math.Inf(1)
	}
	low, high := 0.0, limit
	for range 40 {
		if mid := (low + high) / 2; meanPower(all, mid, threshold, s.scale) < power {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}
