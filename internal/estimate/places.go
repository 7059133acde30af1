package estimate

import (
	"slices"
	"sort"

	"ductward/internal/detect"
	"ductward/internal/finding"
)

// withOpenSide puts the machine's open side beside the loss of its drop: a hose that lets air in and a drop that resists
// less read the same.
func (e *Estimator) withOpenSide(f *finding.Finding) {
	side := "open-side:" + f.Subject
	if !slices.Contains(e.cols.zones, side) {
		return
	}
	for i := range f.Where {
		p := &f.Where[i]
		if p.Part != "blockage:"+f.Subject || slices.Contains(p.Members, side) {
			continue
		}
		if p.Members == nil {
			p.Members = []string{p.Part}
		}
		p.Members = append(slices.Clone(p.Members), side)
	}
}

// alike is the expected log evidence for one place against another, if the change is there, below which the two are told
// as one: odds of less than three to one.
const alike = 1.1

// places lists where a change may be, most probable first. Places that the record cannot tell apart are one entry, under
// the name of the most probable; what is too improbable to name is 'other'.
func (e *Estimator) places(c *change) []finding.Place {
	order := make([]int, len(c.mass))
	for j := range order {
		order[j] = j
	}
	sort.SliceStable(order, func(a, b int) bool { return c.mass[order[a]] > c.mass[order[b]] })
	apart := e.apart(c)
	var out []finding.Place
	var leaders []int
	other := 0.0
	for _, j := range order {
		p := c.mass[j]
		at := slices.IndexFunc(leaders, func(l int) bool { return e.oneGroup(l, j, apart) })
		switch {
		case at >= 0 && p > 0.002:
			out[at].Probability += p
			if part := e.cols.part(j); part != out[at].Part && !slices.Contains(out[at].Members, part) {
				if out[at].Members == nil {
					out[at].Members = []string{out[at].Part}
				}
				out[at].Members = append(out[at].Members, part)
			}
		case at < 0 && p >= 0.02:
			leaders = append(leaders, j)
			out = append(out, e.place(c, j, p))
		default:
			other += p
		}
	}
	sort.SliceStable(out, func(a, b int) bool { return out[a].Probability > out[b].Probability })
	if other > 0 {
		out = append(out, finding.Place{Part: "other", Probability: other})
	}
	return out
}

// oneGroup tells whether two columns are told as one place: what the record cannot tell apart, one part under two columns,
// and a machine's open side with the loss of its drop, which no pressure can part.
func (e *Estimator) oneGroup(lead, j int, apart func(i, j int) float64) bool {
	k := &e.cols
	switch a, b := k.kind(lead), k.kind(j); {
	case a == b && (a == leakChange || a == chokeChange):
		return k.part(lead) == k.part(j) || apart(lead, j) < alike
	case a == leakChange && b == blockChange:
		return k.zones[lead] == "open-side:"+k.machines[j-k.block0]
	case a == blockChange && b == leakChange:
		return k.zones[j] == "open-side:"+k.machines[lead-k.block0]
	}
	return false
}

// apart returns how far the days since a change tell column j from column i, if the change is at i with the size found:
// what j cannot explain of i's signature, as half a chi-square.
func (e *Estimator) apart(c *change) func(i, j int) float64 {
	sum := detect.NewInformation(e.cols.changes)
	for _, d := range e.days {
		if d.at >= c.onset {
			sum.Add(1, d.info)
		}
	}
	k := c.mean * c.mean / (2 * e.scatter.inflation())
	return func(i, j int) float64 {
		cross := sum.Lambda.At(i, j)
		return k * (sum.Lambda.At(i, i) - cross*cross/sum.Lambda.At(j, j))
	}
}
