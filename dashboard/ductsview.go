package dashboard

import (
	"fmt"
	"math"

	"ductward/internal/watch"
)

// ductsBody is the content of the ducts page.
type ductsBody struct {
	Sentence string
	Parts    []ductsPart
}

// ductsPart is one collector's ducts.
type ductsPart struct {
	Name      string
	Drawing   drawing
	Machines  []machineRow
	Runs      []runRow
	Transport string // the speed below which dust may settle
	FanOn     bool
}

// runRow is the air in one run.
type runRow struct {
	Name, Size, Flow, Velocity, Word string
	Settles                          bool
}

// ductsView shows flows and velocities for the gates as they are.
func (s *server) ductsView(rq *request) (any, error) {
	b := ductsBody{Sentence: "Nothing is known of the air in the ducts yet."}
	if rq.snap == nil {
		return b, nil
	}
	latest := s.Readings.Latest()
	settling := 0
	for i := range rq.snap.Collectors {
		c := &rq.snap.Collectors[i]
		p := ductsPart{Drawing: s.draw(rq, c, s.stateOf(rq, c, latest), fmt.Sprint("d", i)), FanOn: c.Now.FanOn,
			Machines: machineRows(c.Now.Machines, c.Now.FanOn)}
		if len(s.Shop.Collectors) > 1 {
			p.Name = c.Name
		}
		p.Runs = s.runRows(c)
		for _, r := range p.Runs {
			if r.Settles {
				settling++
			}
		}
		if plan := s.collectorPlan(c.Name); plan != nil {
			p.Transport = plainOr(plan.Transport, "m/s")
		}
		b.Parts = append(b.Parts, p)
	}
	b.Sentence = ductsSentence(rq, settling)
	return b, nil
}

// ductsSentence says where dust may settle.
func ductsSentence(rq *request, settling int) string {
	on := false
	for i := range rq.snap.Collectors {
		on = on || rq.snap.Collectors[i].Now.FanOn
	}
	switch {
	case !on:
		return "The fan is off: no air moves in the ducts."
	case settling == 0:
		return "In every run that is in use the air is fast enough to carry dust."
	}
	return capital(count(settling, "run")) + " in use " + plural(settling, "is", "are") + " too slow to be sure that dust is carried: it may settle there."
}

// runRows lists the runs in the order of the shop file.
func (s *server) runRows(c *watch.Collector) []runRow {
	plan := s.collectorPlan(c.Name)
	if plan == nil || plan.Network == nil {
		return nil
	}
	var out []runRow
	for _, r := range plan.Network.Runs {
		row := runRow{Name: r.Name, Size: join(plain(r.Diameter*1000), "mm"), Flow: unknown, Velocity: unknown}
		for _, a := range c.Now.Runs {
			if a.Run != r.Name {
				continue
			}
			row.Flow, row.Velocity = flowPlain(a.Flow), plainOr(math.Abs(a.Velocity), "m/s")
			if row.Settles = a.Settles; a.Settles {
				row.Word = "dust may settle"
			}
		}
		out = append(out, row)
	}
	return out
}
