package estimate

import (
	"fmt"
	"strings"
)

// confusable lists what else it might be by the readings, in words.
func (e *Estimator) confusable(c *change) []string {
	kinds := []struct {
		words string
		mass  float64
		own   bool
	}{
		{words: "a leak"},
		{words: "a blocked or freed drop"},
		{words: "a blocked trunk"},
		{words: "a torn filter"},
		{words: "a change of the fan's speed" + e.orBehindTap()},
		{words: "a wheel that is caked, worn or turns backwards"},
		{words: "a restriction after the tap"},
		{words: "a change of a sensor or its tap"},
		{words: "what the filter's housing loses"},
	}
	for j, p := range c.mass {
		kinds[e.cols.kind(j)].mass += p
	}
	kinds[e.cols.kind(c.col)].own = true
	var out []string
	for _, k := range kinds {
		if !k.own && k.mass > 0.03 {
			out = append(out, fmt.Sprintf("%s (%.0f %%)", k.words, 100*k.mass))
		}
	}
	return out
}

// orBehindTap is what a slow fan cannot be told from where nobody reads the fan itself.
func (e *Estimator) orBehindTap() string {
	if e.cols.metered() {
		return ""
	}
	return ", or a restriction after the tap"
}

// subjectOf names what a finding is about.
func (e *Estimator) subjectOf(c *change) string {
	switch {
	case e.cols.isLeak(c.col):
		part := e.cols.zones[c.col]
		if c.mass[c.col] < 0.5 {
			return e.groupOf(c)
		}
		return part[strings.Index(part, ":")+1:]
	case e.cols.kind(c.col) == blockChange:
		return e.cols.machines[c.col-e.cols.block0]
	case e.cols.kind(c.col) == chokeChange:
		if c.mass[c.col] < 0.5 {
			return "trunk"
		}
		return e.cols.trunk[c.col-e.cols.choke0]
	case e.cols.kind(c.col) != scaleChange: // of the filter or the fan
		return ""
	}
	return e.cols.channels[c.col-e.cols.gain0]
}

// groupOf names the group of places that a leak can be told to be in.
func (e *Estimator) groupOf(c *change) string {
	trunk := 0.0
	for j := range e.cols.zones {
		if kind := partKind(e.cols.zones[j]); kind == "run" || kind == "inlet" {
			trunk += c.mass[j]
		}
	}
	if trunk > 0.5 {
		return "trunk"
	}
	return ""
}

// partKind returns what stands before the colon of a part.
func partKind(part string) string {
	kind, _, _ := strings.Cut(part, ":")
	return kind
}
