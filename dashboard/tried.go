package dashboard

import (
	"fmt"
	"html/template"
	"math"
	"net/http"

	"ductward/dashboard/draw"
	"ductward/internal/air"
	"ductward/internal/caution"
	"ductward/internal/duct"
	"ductward/internal/estimate"
	"ductward/internal/shop"
	"ductward/internal/verdict"
	"ductward/internal/watch"
)

// tryForm is where machines are opened on screen, to see what the model makes of it.
type tryForm struct {
	Collector string
	Machines  []tryChoice
	Tried     bool   // what stands above is of these and not of the gates as they are
	Problem   string // why they cannot be tried
	Note      string
	Bears     string
	Forbidden bool
	Cautions  []string
}

type tryChoice struct {
	Name string
	On   bool
}

// drawingDoubt is the standard error of a flow that the drawing alone tells, over that flow: as built, ducts are some 10 % off
// their drawing (common practice, no source).
const drawingDoubt = 0.1

// bearing says whether ducts are known to bear the suction of a set of gates.
type bearing string

// The answers.
const (
	borne    bearing = "yes"
	notBorne bearing = "no"
	unrated  bearing = "not known"
)

// tried is what the model makes of gates that are open on screen.
type tried struct {
	now   estimate.Now
	sheet *draw.Sheet
	ratio float64 // of the filter's resistance over the clean one's
	bears bearing
}

// try solves a collector's drawing with some machines open, the filter as it is, in the air of the site.
func (s *server) try(plan *shop.Collector, c *watch.Collector, machines []string) (*tried, error) {
	setting, err := verdict.Opening(plan, machines...)
	if err != nil {
		return nil, err
	}
	m, err := duct.New(plan)
	if err != nil {
		return nil, err
	}
	site := s.Shop.Site
	of, err := air.At(site.Temperature, air.PressureAt(site.Altitude), site.Humidity)
	if err != nil {
		return nil, err
	}
	st := duct.State{Setting: setting, Air: of, FilterRatio: filterNow(c)}
	res, err := m.Solve(st)
	if err != nil {
		return nil, err
	}
	t := &tried{sheet: draw.Solved(plan, st, res), ratio: st.FilterRatio, bears: bears(plan, m, setting, site)}
	t.now = t.sheet.Now
	t.now.Flow.SE = drawingDoubt * t.now.Flow.V
	for i := range t.now.Machines {
		t.now.Machines[i].Flow.SE = drawingDoubt * math.Abs(t.now.Machines[i].Flow.V)
	}
	return t, nil
}

// filterNow is the filter's resistance over its baseline's, which stands for a clean one's; 1 where it is not known.
func filterNow(c *watch.Collector) float64 {
	v := c.Now.Filter.V
	if day := lastDay(c); !known(v) && day != nil {
		v = day.FilterRatio.V
	}
	if !known(v) || v <= 0 {
		return 1
	}
	return v
}

// bears judges a set of gates by the largest suction that it may have, each run by its own rating or the collector's.
func bears(plan *shop.Collector, m *duct.Model, setting shop.Setting, site shop.Site) bearing {
	judge := verdict.For(plan)
	densest, err := verdict.DensestAir(site)
	if !judge.Rated() || err != nil {
		return unrated
	}
	worst := verdict.Harshest(densest)
	worst.Setting = setting
	res, err := m.Solve(worst)
	if err != nil {
		return unrated
	}
	for _, r := range judge.Runs(res) {
		if !r.Bears() {
			return notBorne
		}
	}
	return borne
}

// bearsText says it, and what follows from it.
var bearsText = map[bearing]string{
	borne:    "The ducts are rated to bear it.",
	notBorne: "Do not run it: the fan could pull harder then than the ducts are rated to bear.",
	unrated:  "Whether the ducts bear it is not known, since their rating is not in the shop file: run no fewer gates than the shop has run already.",
}

// tryCautions stand beside what is tried: somebody may go and do it.
var tryCautions = texts(caution.MachinesIdle, caution.AllGates, caution.LockOutToOpen, caution.Authority)

// tryView makes the form of a collector, and puts what is tried in the place of the gates as they are. The query names the
// collector ("try") and its machines ("open").
func (s *server) tryView(rq *request, c *watch.Collector, p *ductsPart, id string) {
	plan := s.collectorPlan(c.Name)
	if plan == nil || plan.Network == nil || len(plan.Machines) == 0 {
		return
	}
	q := rq.URL.Query()
	f := &tryForm{Collector: c.Name, Tried: q.Get("try") == c.Name}
	p.Try = f
	open := map[string]bool{}
	for _, m := range c.Now.Machines {
		open[m.Machine] = m.Open && !f.Tried
	}
	for _, name := range q["open"] {
		open[name] = open[name] || f.Tried
	}
	for _, m := range plan.Machines {
		f.Machines = append(f.Machines, tryChoice{m.Name, open[m.Name]})
	}
	if !f.Tried {
		return
	}
	t, err := s.try(plan, c, q["open"])
	if err != nil {
		f.Tried, f.Problem = false, capital(err.Error())+"."
		return
	}
	p.show(s, c, t, id)
}

// show puts what was tried in the place of the gates as they are.
func (p *ductsPart) show(s *server, c *watch.Collector, t *tried, id string) {
	as := *c
	as.Now = t.now
	p.Machines, p.Runs = s.machineRows(t.now.Machines, true), s.runRows(&as)
	t.sheet.ID, t.sheet.Figures = id, s.sheetFigures(&as)
	t.sheet.Title = "The ducts with the air in each run for the gates that are tried, which the table below tells as well."
	t.sheet.Heading = []string{"Gates that are tried on screen", openWords(s.collectorPlan(c.Name), &t.now)}
	p.Sheet = template.HTML(t.sheet.SVG())
	p.Try.Note = fmt.Sprintf("By the drawing in the shop file, with the filter at %s\u00a0%% of a clean one’s resistance: as built, ducts are some 10\u00a0%% otherwise. No gate is moved by this.", fixed(100*t.ratio, 0))
	p.Try.Bears, p.Try.Forbidden, p.Try.Cautions = bearsText[t.bears], t.bears != borne, tryCautions
}

// airflowDTO is what the model makes of a set of machines that are open.
type airflowDTO struct {
	Collector string       `json:"collector"`
	Open      []string     `json:"open"` // gates
	Filter    float64      `json:"filter_resistance_ratio"`
	Flow      *float64     `json:"flow_m3_s"`
	FlowSD    *float64     `json:"flow_m3_s_sd"`
	Machines  []machineDTO `json:"machines"`
	Runs      []runDTO     `json:"runs"`
	Bears     bearing      `json:"borne"`
}

// apiAirflow answers with the air for machines that are open on screen: ?collector=&open=, the latter as often as there are
// machines.
func (s *server) apiAirflow(w http.ResponseWriter, r *http.Request) {
	rq, q := s.newRequest(r), r.URL.Query()
	name := q.Get("collector")
	if name == "" && len(s.Shop.Collectors) == 1 {
		name = s.Shop.Collectors[0].Name
	}
	plan, c := s.collectorPlan(name), collectorOf(rq, name)
	switch {
	case plan == nil:
		s.fail(w, r, http.StatusNotFound, fmt.Sprintf("collector %q is not in the shop file: /api/v1/state lists those that are", name))
		return
	case plan.Network == nil:
		s.fail(w, r, http.StatusNotFound, fmt.Sprintf("the shop file has no drawing of the ducts of %q", name))
		return
	case c == nil:
		c = &watch.Collector{Name: name, Now: estimate.Now{Filter: estimate.Value{V: math.NaN(), SE: math.NaN()}}}
	}
	t, err := s.try(plan, c, q["open"])
	if err != nil {
		s.fail(w, r, http.StatusBadRequest, err.Error())
		return
	}
	now := newNowDTO(&t.now, 0)
	writeJSON(w, http.StatusOK, airflowDTO{name, now.Open, t.ratio, now.Flow, now.FlowSD, now.Machines, now.Runs, t.bears})
}
