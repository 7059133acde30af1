package verdict

import (
	"math"

	"ductward/internal/shop"
)

// FilterAtLimit is the resistance of a filter at its limit, as a factor on that of the clean filter: the FilterRatio of
// a duct.State. A limit that is stated without a flow is taken at the flow at which the clean drop is stated. NaN: no
// limit is known, or the clean filter is above it already.
func FilterAtLimit(f shop.Filter) float64 {
	if !(f.Limit > 0) || !(f.CleanDrop > f.HousingLoss) || !(f.CleanFlow > 0) {
		return math.NaN()
	}
	share := 1.0 // of the limit's flow in the clean one's
	if f.LimitFlow > 0 {
		share = f.LimitFlow / f.CleanFlow
	}
	media := f.Limit - f.HousingLoss*share*share
	if ratio := media / ((f.CleanDrop - f.HousingLoss) * share); ratio > 1 {
		return ratio
	}
	return math.NaN()
}
