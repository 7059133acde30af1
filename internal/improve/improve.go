package improve

import (
	"fmt"
	"math"

	"ductward/internal/shop"
	"ductward/internal/verdict"
)

// Of finds what could be done for a collector, which must have a drawing.
func Of(c *shop.Collector, q Question) (*Answer, error) {
	j := &job{question: q, original: c}
	if err := j.begin(); err != nil {
		return nil, fmt.Errorf("collector %q: %w", c.Name, err)
	}
	if len(j.aim.spots) == 0 {
		return j.answer, nil
	}
	list := changes(c, j.now.filter)
	j.answer.Tried = len(list)
	brought := j.rank(tryAll(j.now, list, j.answer.Sets, q.State))
	j.answer.Steps = j.sequence(brought)
	return j.answer, nil
}

// job is one question on its way to an answer.
type job struct {
	question Question
	original *shop.Collector
	now      *draft // as drawn
	base     trial
	aim      aim
	answer   *Answer
}

// begin solves the drawing as it is, and finds who is needy.
func (j *job) begin() error {
	c, q := j.original, j.question
	if c.Network == nil {
		return fmt.Errorf("it has no drawing of its ducts: write \"ducts\" in the shop file to have changes tried")
	}
	filter := q.State.FilterRatio
	if filter == 0 {
		filter = 1
	}
	j.now = newDraft(c, filter)
	a := &Answer{Collector: c.Name, Least: verdict.Transport(c), Filter: filter, Sets: q.Sets}
	if a.Sets == nil {
		a.Sets, a.Locked = UsualSets(c)
	}
	if q.Prices != nil {
		a.Currency = q.Prices.Currency
	}
	var err error
	if j.base, err = j.now.try(a.Sets, q.State); err != nil {
		return err
	}
	a.Bare = bareFlow(j.now, q.State)
	for i := range a.Sets {
		describe(&a.Sets[i], c, j.base[i], a.Bare)
	}
	for _, m := range c.Machines {
		if math.IsNaN(m.Needs) {
			a.Unstated = append(a.Unstated, m.Name)
		}
	}
	j.aim = aimAt(c, a.Sets, j.base)
	a.Short, a.Tight = short(c, a.Sets, j.base), j.aim.tight
	a.Needy = j.aim.needy(c, a.Sets, j.base)
	j.answer = a
	return nil
}

// describe fills in what the solved set tells: who is open, and whether the collector could serve them at all.
func describe(s *Set, c *shop.Collector, o outcome, bare float64) {
	s.Machines, s.missing, s.Needs = nil, nil, 0
	for k, m := range c.Machines {
		if !o.open[k] {
			s.missing = append(s.missing, m.Name)
			continue
		}
		s.Machines = append(s.Machines, m.Name)
		if m.Needs > 0 {
			s.Needs += m.Needs
		}
	}
	s.Beyond = s.Needs > bare
}
