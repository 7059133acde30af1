package trial

import (
	"cmp"
	"slices"
)

// Line is one line of the table.
type Line struct {
	Row  string `json:"row"`
	What string `json:"what"`
	Unit string `json:"unit,omitempty"`
	Setting
	Bound   *float64   `json:"bound"` // nil: none was worked out
	Aim     [2]float64 `json:"aim"`
	Reached *Estimate  `json:"reached"` // nil: no replicate says anything
	Met     string     `json:"met"`     // "yes", "no", or "open" where the sampling error leaves both
	Mark    *bool      `json:"mark,omitempty"`
}

// Bin is one bin of the reliability table: what was stated, and how often it was so.
type Bin struct {
	Of     string   `json:"of"` // "branch" or "place"
	Set    string   `json:"set"`
	Low    float64  `json:"low"`
	High   float64  `json:"high"`
	Stated float64  `json:"stated"` // mean
	Right  Estimate `json:"right"`
}

// Table is what the results say.
type Table struct {
	Lines       []Line  `json:"lines"`
	Reliability []Bin   `json:"reliability"`
	CoreHours   float64 `json:"core_hours"`
	Replicates  int     `json:"replicates"`
}

// TableOf sums results up, of the seeds that were asked for.
func TableOf(a Ask, results []Result) (*Table, error) {
	if err := a.Check(); err != nil {
		return nil, err
	}
	by := map[Setting][]Result{}
	t := &Table{}
	cells := a.cells()
	for _, r := range results {
		if r.Seed < a.From || r.Seed > a.To || !slices.ContainsFunc(cells, func(c cell) bool { return c.Setting == r.Setting }) {
			continue
		}
		by[r.Setting] = append(by[r.Setting], r)
		t.CoreHours += r.Seconds / 3600
		t.Replicates++
	}
	for _, rs := range by { // whatever order they were finished in
		slices.SortFunc(rs, func(x, y Result) int { return cmp.Compare(x.Seed, y.Seed) })
	}
	bounds := studies{}
	for _, c := range cells {
		l, err := lineOf(c, by[c.Setting], bounds)
		if err != nil {
			return nil, err
		}
		t.Lines = append(t.Lines, l)
	}
	for _, set := range a.Sets {
		t.Reliability = append(t.Reliability, binsOf("branch", set, "stated", "stated right", results)...)
		t.Reliability = append(t.Reliability, binsOf("place", set, "place stated", "place right", results)...)
	}
	return t, nil
}

// Passed tells whether every pass mark is met.
func (t *Table) Passed() bool {
	return !slices.ContainsFunc(t.Lines, func(l Line) bool { return l.Mark != nil && !*l.Mark })
}

// lineOf sums one cell up.
func lineOf(c cell, results []Result, bounds studies) (Line, error) {
	l := Line{Row: c.row.id, What: c.row.what, Unit: c.row.unit, Setting: c.Setting, Aim: c.row.aim, Met: "open"}
	if e, ok := c.reached(results); ok {
		l.Reached, l.Met = &e, met(e, c.row.aim)
	}
	if m := markOf(c); m != nil {
		pass := l.Reached != nil && met(*l.Reached, m.pass) != "no"
		l.Mark = &pass
	}
	var err error
	l.Bound, err = bounds.of(c)
	return l, err
}

// reached makes the cell's figure of its results.
func (c cell) reached(results []Result) (Estimate, bool) {
	var all [][]float64
	for _, r := range results {
		all = append(all, r.Metrics[c.row.metric])
	}
	if c.row.figure != nil {
		return estimateOf(all, c.row.figure, c.row.rate)
	}
	events, years := 0.0, 0.0
	for _, r := range results {
		for i, n := range r.Metrics[c.row.metric] {
			events, years = events+n, years+r.Metrics["years"][i]
		}
	}
	if years == 0 {
		return Estimate{}, false
	}
	e := Estimate{Replicates: len(results)}
	e.Value, e.Low, e.High = poisson(events, years)
	return e, true
}

// met tells whether an estimate lies within a range: surely, surely not, or as far as its sampling error lets it be known.
func met(e Estimate, aim [2]float64) string {
	switch {
	case e.rough:
		return "open"
	case e.Low >= aim[0] && e.High <= aim[1]:
		return "yes"
	case e.High < aim[0] || e.Low > aim[1]:
		return "no"
	}
	return "open"
}

// binEdges part the stated probabilities.
var binEdges = []float64{0, 0.3, 0.5, 0.7, 0.9, 0.97, 1.000001}

// binsOf makes the reliability table of one sensor set from all replicates whose leaks come as they are believed to.
func binsOf(of, set, stated, right string, results []Result) []Bin {
	var out []Bin
	for i := range binEdges[1:] {
		b := Bin{Of: of, Set: set, Low: binEdges[i], High: min(1, binEdges[i+1])}
		n, hits := 0.0, 0.0
		for _, r := range results {
			if r.Set != set || r.Scenario != believedLeaks {
				continue
			}
			for k, p := range r.Metrics[stated] {
				if p >= binEdges[i] && p < binEdges[i+1] {
					n, hits, b.Stated = n+1, hits+r.Metrics[right][k], b.Stated+p
				}
			}
		}
		if n == 0 {
			continue
		}
		b.Stated /= n
		b.Right.Replicates = int(n)
		b.Right.Value, b.Right.Low, b.Right.High = wilson(hits, n)
		out = append(out, b)
	}
	return out
}
