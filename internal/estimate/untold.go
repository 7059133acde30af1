package estimate

import (
	"math"

	"ductward/internal/detect"
)

// untoldOf returns what may have changed for good of a column without having been told: its mean and standard deviation over all that
// an evening's scan weighs, that nothing has changed among it. A slip that a shop without a barometer cannot tell from the weather for
// two weeks is no speed that is known to a fifth of a hundredth. A day begins a change with the probability suddenLeak.
func untoldOf(col int, scores []detect.Score, hyps []detect.Hypothesis) Value {
	top := 0.0 // that nothing has changed
	for i := range scores {
		top = max(top, scores[i].Evidence)
	}
	total, sx, sxx := math.Exp(-top), 0.0, 0.0
	for i := range scores {
		s := &scores[i]
		h := hyps[s.Hypothesis]
		if h.Sign*s.Size < 0 {
			continue
		}
		p := suddenLeak * h.Weight * math.Exp(s.Evidence-top)
		total += p
		if h.Param == col {
			sx += p * s.Size
			sxx += p * (s.Size*s.Size + s.Variance)
		}
	}
	mean := sx / total
	return Value{V: mean, SE: math.Sqrt(max(sxx/total-mean*mean, 0))}
}

// fanRatio returns the fan's speed on a day over the baseline's: what was told of it, what may have changed untold, and how it is
// otherwise on that day.
func (e *Estimator) fanRatio(d *dayData, untold Value) Value {
	variance := d.speed.SE*d.speed.SE + untold.SE*untold.SE
	for _, c := range e.changes {
		if c.col == e.cols.fan && c.value(d.at) != 0 {
			variance += c.sd * c.sd
		}
	}
	speed := math.Exp(e.known(d.at)[e.cols.fan] + untold.V + d.speed.V)
	return Value{V: speed, SE: speed * math.Sqrt(variance)}
}
