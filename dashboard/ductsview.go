package dashboard

import (
	"fmt"
	"html/template"
	"math"

	"ductward/internal/estimate"
	"ductward/internal/watch"
)

// ductsBody is the content of the ducts page.
type ductsBody struct {
	Sentence string
	Parts    []ductsPart
	ByHand   []handRow
}

// ductsPart is one collector's ducts.
type ductsPart struct {
	Name      string
	Sheet     template.HTML // empty where the shop file has no drawing of these ducts: then Drawing stands for it
	Drawing   drawing
	Machines  []machineRow
	Runs      []runRow
	Transport string // the speed below which dust may settle
	FanOn     bool
	Try       *tryForm // nil: there is no drawing to try gates on
}

// runRow is the air in one run.
type runRow struct {
	Name, Size, Flow, Velocity, Static string
	Settles                            bool
}

// ductsView shows flows and velocities for the gates as they are.
func (s *server) ductsView(rq *request) (any, error) {
	b := ductsBody{Sentence: "Nothing is known of the air in the ducts yet.", ByHand: s.handRows()}
	if rq.snap == nil {
		return b, nil
	}
	latest := s.Readings.Latest()
	settling, trying := 0, false
	for i := range rq.snap.Collectors {
		c := &rq.snap.Collectors[i]
		p := s.ductsPart(rq, c, s.stateOf(rq, c, latest), fmt.Sprint("d", i))
		if len(s.Shop.Collectors) > 1 {
			p.Name = c.Name
		}
		p.Runs = s.runRows(c)
		s.tryView(rq, c, &p, fmt.Sprint("d", i))
		trying = trying || p.Try != nil && p.Try.Tried
		for _, r := range p.Runs {
			if r.Settles {
				settling++
			}
		}
		if plan := s.collectorPlan(c.Name); plan != nil {
			p.Transport = s.velocity.plain(plan.Transport)
		}
		b.Parts = append(b.Parts, p)
	}
	b.Sentence = ductsSentence(rq, settling, trying)
	return b, nil
}

// ductsPart draws one collector's ducts.
func (s *server) ductsPart(rq *request, c *watch.Collector, st state, id string) ductsPart {
	p := ductsPart{Sheet: s.sheet(c, st, id), FanOn: c.Now.FanOn, Machines: s.machineRows(c.Now.Machines, c.Now.FanOn)}
	if p.Sheet == "" {
		p.Drawing = s.draw(rq, c, st, id)
	}
	return p
}

// ductsSentence says where dust may settle.
func ductsSentence(rq *request, settling int, trying bool) string {
	on := trying
	for i := range rq.snap.Collectors {
		on = on || rq.snap.Collectors[i].Now.FanOn
	}
	switch {
	case !on:
		return "The fan is off: no air moves in the ducts."
	case trying && settling == 0:
		return "With the gates that are tried, the air is fast enough to carry dust in every run that is in use."
	case trying:
		return "With the gates that are tried, " + count(settling, "run") + plural(settling, " is", " are") + " too slow to be sure that dust is carried: it may settle there."
	case settling == 0:
		return "In every run that is in use the air is fast enough to carry dust."
	}
	return capital(count(settling, "run")) + " in use " + plural(settling, "is", "are") + " too slow to be sure that dust is carried: it may settle there."
}

// about writes a value in the digits that it deserves, without its spread.
func about(v estimate.Value, factor float64, unit string) string {
	if !known(v.V) {
		return unknown
	}
	if v.V == 0 {
		return join("0", unit)
	}
	return join(rounded(v, factor), unit)
}

// runRows lists the runs in the order of the shop file.
func (s *server) runRows(c *watch.Collector) []runRow {
	plan := s.collectorPlan(c.Name)
	if plan == nil || plan.Network == nil {
		return nil
	}
	say := s.sheetFigures(c)
	var out []runRow
	for _, r := range plan.Network.Runs {
		row := runRow{Name: r.Name, Size: s.diameter.plain(r.Diameter), Flow: unknown, Velocity: unknown, Static: unknown}
		for _, a := range c.Now.Runs {
			if a.Run != r.Name {
				continue
			}
			row.Flow, row.Velocity, row.Static, row.Settles = say.Flow(a.Flow), say.Velocity(math.Abs(a.Velocity)), say.Pressure(a.Static), a.Settles
		}
		out = append(out, row)
	}
	return out
}
