package trial

import (
	"fmt"
	"math"

	"ductward/internal/plant"
)

// boundDays are those of a healthy year that its bound needs.
const boundDays = faultDay + 7

// boundPlants is over how many plants a bound is averaged: how a week happens to be worked in decides much of it.
const boundPlants = 3

// studies are those that have been made, by setting and days.
type studies map[studyKey][]*study

type studyKey struct {
	Setting // with no scenario
	days    int
}

// of returns the bound of a cell, nil where it has none.
func (all studies) of(c cell) (*float64, error) {
	if c.row.bound == nil {
		return nil, nil
	}
	sc := scenarioOf(c.Scenario)
	list, err := all.get(c.Setting, sc)
	if err != nil {
		return nil, err
	}
	sum := 0.0
	for _, s := range list {
		x, err := c.row.bound(s, sc)
		if err != nil {
			return nil, fmt.Errorf("bound of %q, %s: %w", c.row.what, c.Setting, err)
		}
		if !c.row.rate {
			x *= x
		}
		sum += x / float64(len(list))
	}
	if !c.row.rate {
		sum = math.Sqrt(sum)
	}
	return &sum, nil
}

// get returns the studies of a setting, of the first seeds whose plants are worked in on each day of the fault's week.
func (all studies) get(st Setting, sc *scenario) ([]*study, error) {
	key := studyKey{st, sc.days}
	key.Scenario = ""
	if sc.fault == nil {
		key.days = min(key.days, boundDays)
	}
	for seed := uint64(1); len(all[key]) < boundPlants; seed++ {
		sh, err := Shop(st.Set, st.Air)
		if err != nil {
			return nil, err
		}
		r := &Record{Shop: sh, Collector: sh.Collectors[0]}
		r.Plant, r.Work = st.options(seed)
		r.Work.Site = sh.Site
		w, err := plant.NewWorkdays(r.Collector, r.Work)
		if err != nil {
			return nil, err
		}
		if !workedThrough(w) {
			continue
		}
		s, err := newStudy(r, boundNoise(r.Plant), faultDay, key.days)
		if err != nil {
			return nil, err
		}
		all[key] = append(all[key], s)
	}
	return all[key], nil
}

// workedThrough tells whether each day of the fault's week is one of work.
func workedThrough(w *plant.Workdays) bool {
	for d := range 5 {
		if !w.Working(faultDay + d) {
			return false
		}
	}
	return true
}
