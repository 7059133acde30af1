package estimate

import (
	"ductward/internal/air"
)

// What a filter's housing loses is a guess on the shop file's sheet, and does not show before the filter is another: with the filter of
// the baseline it is in every gate set's ratio. It is a column of the changes that never changes: whatever is looked for in the record
// is looked for with it free.
const (
	housingShare = 0.05 // of the clean filter's drop, by which the sheet is off (common practice, no source)
	housingKnown = 0.4  // of what the sheet gives, the same
	housingDay   = 0.3  // of that error, that one day's filter is told with: many days know it better
)

// housingError is the standard error of what the filter's housing loses, Pa at the filter's clean flow.
func (e *Estimator) housingError() float64 {
	f := &e.collector.Filter
	if known := housingKnown * f.HousingLoss; known > housingShare*f.CleanDrop { // no comparison holds for NaN
		return known
	}
	return housingShare * f.CleanDrop
}

// sinceBaseline returns a view in which the filter's housing shows by as much as it shows more than it did with the filter of the
// baseline.
func (e *Estimator) sinceBaseline(v *view, g *gateSet, st *state, a air.State) (*view, error) {
	was, _, _, err := e.viewer.at(g, &state{logFilter: e.cal.logFilter, params: st.params, globals: st.globals}, a)
	if err != nil {
		return nil, err
	}
	out := *v
	out.jac = make([][]float64, len(v.jac))
	for c := range out.jac {
		out.jac[c] = append([]float64(nil), v.jac[c]...)
		out.jac[c][e.cols.housing] -= was.jac[c][e.cols.housing]
	}
	return &out, nil
}
