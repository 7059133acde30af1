package estimate

import (
	"math"
	"slices"

	"ductward/internal/duct"
	"ductward/internal/finding"
)

// behind returns the ID of the standing finding but for which all would be well in a gate set: the newest change first, then
// the filter. Where it takes all of them together, it is the first of these. "" says that they do not explain it, so that it
// is a trouble by itself. Where the model has no answer without a cause, that cause explains nothing.
func (e *Estimator) behind(set *gateSet, ratio float64, well func(*duct.Result) bool) string {
	now := len(e.summary)
	without := func(logFilter float64, params []float64) bool {
		s := &state{logFilter: logFilter, params: params, globals: e.cal.globals}
		res, err := e.viewer.model.Solve(e.viewer.ductState(set, s, e.standardAir()))
		return err == nil && well(res)
	}
	filter, none, first := math.Log(ratio), e.known(now), ""
	for _, c := range slices.Backward(e.changes) {
		if !e.asks(c.finding) {
			continue
		}
		x := e.known(now)
		x[c.col] -= c.value(now)
		if without(filter, x) {
			return c.finding
		}
		none[c.col] -= c.value(now)
		if first == "" {
			first = c.finding
		}
	}
	for _, f := range e.findings {
		if f.Kind != finding.FilterDue && f.Kind != finding.FilterNotRecovering || !e.asks(f.ID) {
			continue
		}
		if without(e.cal.logFilter, e.known(now)) {
			return f.ID
		}
		filter = e.cal.logFilter
		if first == "" {
			first = f.ID
		}
	}
	if first != "" && without(filter, none) {
		return first
	}
	return ""
}

// asks tells whether a finding stands that asks something of a person.
func (e *Estimator) asks(id string) bool {
	return slices.ContainsFunc(e.findings, func(f finding.Finding) bool { return f.ID == id && f.Active() && f.Priority != finding.Journal })
}
