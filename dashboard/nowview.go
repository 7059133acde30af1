package dashboard

import (
	"fmt"
	"html/template"
	"math"
	"strings"
	"time"

	"ductward/dashboard/draw"
	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/watch"
)

// nowBody is the content of the first page.
type nowBody struct {
	Collectors []nowCollector
	Age        string // how old the readings are, in words
	Stale      bool
}

// nowCollector is how one collector stands.
type nowCollector struct {
	Name     string // "" where the shop has only one
	Word     word
	Class    string
	Sentence string
	Stale    bool
	FanOff   bool
	Drawing  drawing
	Machines []machineRow
	Facts    []fact
	Asking   []findingCard
	Held     []findingCard // put aside
	Lacks    []string
	Settling bool        // the air has not come to rest since the last change
	ByHand   bool        // some positions are set on the ducts page
	Checks   []checkLine // that are due
}

// drawing is the picture in its two shapes; the style sheet shows the one that fits.
type drawing struct {
	Wide, Narrow template.HTML
	NoDrawing    bool // the shop file has none
}

// fact is one number in words.
type fact struct{ Name, Value, More string }

// machineRow is one machine's air in a table.
type machineRow struct {
	Name, Flow, Needs, Verdict, Class string
	Open                              bool
}

// nowView says whether one can work and whether anything needs doing.
func (s *server) nowView(rq *request) (any, error) {
	b := nowBody{Age: "No reading has arrived yet.", Stale: true}
	if rq.snap == nil || len(rq.snap.Collectors) == 0 {
		return b, nil
	}
	latest := s.Readings.Latest()
	var newest time.Time
	b.Stale = false
	for i := range rq.snap.Collectors {
		c := &rq.snap.Collectors[i]
		v, st := s.nowCollector(rq, c, latest, i)
		b.Collectors = append(b.Collectors, v)
		b.Stale = b.Stale || st.Stale
		if st.At.After(newest) {
			newest = st.At
		}
	}
	b.Age = s.ageText(newest, rq.now)
	return b, nil
}

// ageText says how old the newest reading is.
func (s *server) ageText(at, now time.Time) string {
	if at.IsZero() {
		return "No reading has arrived yet."
	}
	return "Last reading " + s.local(at).Format("15:04:05") + ", " + age(now.Sub(at)) + " ago"
}

// nowCollector puts one collector into words and draws it.
func (s *server) nowCollector(rq *request, c *watch.Collector, latest map[string]reading.Reading, i int) (nowCollector, state) {
	st := s.stateOf(rq, c, latest)
	v := nowCollector{Word: st.Word, Class: st.Word.class(), Sentence: st.Sentence, Stale: st.Stale, FanOff: !st.FanOn && !st.At.IsZero(),
		Lacks: c.Lacks, Settling: c.Now.FanOn && !c.Now.Settled && !st.Stale, ByHand: len(s.handRows()) > 0}
	if len(s.Shop.Collectors) > 1 {
		v.Name = c.Name
	}
	v.Drawing = s.draw(rq, c, st, string(rune('a'+i%26)))
	v.Machines = s.machineRows(c.Now.Machines, c.Now.FanOn)
	v.Facts = s.facts(rq, c)
	v.Checks = s.dueChecks(rq, c)
	held := s.held()
	v.Asking = s.cards(rq, func(f *finding.Finding) bool { return held.asks(f) && f.Collector == c.Name })
	v.Held = s.cards(rq, func(f *finding.Finding) bool { return held.holds(f) && f.Collector == c.Name })
	return v, st
}

// facts are the few numbers beside the drawing.
func (s *server) facts(rq *request, c *watch.Collector) []fact {
	out := []fact{{"Air through the fan", s.flowText(c.Now.Flow), ""}}
	if !c.Now.FanOn {
		out[0].Value = "none: the fan is off"
	}
	day := lastDay(c)
	filter, leak := c.Now.Filter, c.Now.Leakage
	if day != nil && !known(filter.V) {
		filter = day.FilterRatio
	}
	if day != nil && !known(leak.V) {
		leak = day.Leakage
	}
	f := fact{"Filter", unknown, strings.Join(s.dueSentence(c, rq.now), " ")}
	if known(filter.V) {
		f.Value = percent(filter) + " of its baseline resistance"
	}
	l := fact{"New leakage", unknown, ""}
	if known(leak.V) {
		l.Value = s.flowText(leak) + " at " + s.pressureText(rq.snap.ReferenceSuction)
		l.More = s.areaText(leak, rq.snap.ReferenceSuction)
	}
	return append(append(out, f, l), gatesFact(&c.Now)...)
}

// gatesFact says how sure it is which gates are open, where the pressures alone tell it.
func gatesFact(n *estimate.Now) []fact {
	if !n.FanOn || !(n.Sure > 0) || n.Sure >= 1 {
		return nil
	}
	if known(n.Flow.V) {
		return []fact{{"Gates", "told by the pressures alone", fmt.Sprintf("%.0f %% sure of the set that is drawn", math.Floor(100*n.Sure))}}
	}
	return []fact{{"Gates", "not sure which are open", "the pressures fit several sets: no air is told at single machines"}}
}

// referenceDensity is the density, in kg/m³, at which a leak's open area is told: that of the fan laws' reference air.
const referenceDensity = 1.2

// openArea is the hole that would let in the flow q (m³/s) at the suction dp (Pa), in m²:
//
//	A = q / (0.6·√(2·dp/ρ))
//
// 0.6 is the discharge coefficient of a sharp-edged opening; a slit between sheets is near it.
func openArea(q, dp float64) float64 { return q / (0.6 * math.Sqrt(2*dp/referenceDensity)) }

// areaText tells a leak as an opening that one can look for.
func (s units) areaText(q estimate.Value, suction float64) string {
	if !known(q.V) || !(suction > 0) || q.V <= 0 {
		return ""
	}
	return "as much as an opening of " + s.opening.in(estimate.Value{V: openArea(q.V, suction), SE: openArea(q.SE, suction)}) + " would let in"
}

// machineRows is the same as the drawing in a table, open machines first.
func (s units) machineRows(machines []estimate.MachineAir, fanOn bool) []machineRow {
	var open, shut []machineRow
	for _, m := range machines {
		r := machineRow{Name: m.Machine, Flow: s.flowText(m.Flow), Needs: s.flowPlain(m.Needs), Open: m.Open, Verdict: "shut"}
		if math.IsNaN(m.Needs) {
			r.Needs = "not stated"
		}
		if !m.Open {
			r.Flow = "–"
			shut = append(shut, r)
			continue
		}
		r.Verdict, r.Class = verdictText(judge(m))
		if !fanOn {
			r.Flow, r.Verdict, r.Class = "none", "fan off", ""
		}
		open = append(open, r)
	}
	return append(open, shut...)
}

// verdictText says in a word how a machine fares.
func verdictText(v airVerdict) (string, string) {
	switch v {
	case enough:
		return "has what it needs", "good"
	case short:
		return "short of air", "short"
	case closeCall:
		return "too close to call", "cannot-tell"
	case noNeed:
		return "need not stated", ""
	}
	return "cannot tell", "cannot-tell"
}

// draw makes the picture of one collector.
func (s *server) draw(rq *request, c *watch.Collector, st state, id string) drawing {
	return s.drawLeaks(rq, c, st, sureLeaks(c), id)
}

// drawLeaks makes the picture with what may leak in where.
func (s *server) drawLeaks(rq *request, c *watch.Collector, st state, leaks []estimate.Zone, id string) drawing {
	plan := s.collectorPlan(c.Name)
	if plan == nil {
		return drawing{NoDrawing: true}
	}
	p := draw.Picture{Collector: plan, Now: c.Now, Filter: s.filterPicture(c, rq.now), Stale: st.Stale || st.At.IsZero(), ID: id,
		Title: "The air’s way from the machines to the filter. " + st.Sentence, Figure: s.figure}
	if c.Now.FanOn {
		p.Flow = s.flowText(c.Now.Flow)
	}
	p.Leaks = leaks
	return drawing{Wide: p.SVG(draw.Wide), Narrow: p.SVG(draw.Narrow), NoDrawing: plan.Network == nil}
}

// sureLeaks are the places where new leakage may be, as long as something surely leaks: only that is worth a place in a
// picture.
func sureLeaks(c *watch.Collector) []estimate.Zone {
	if day := lastDay(c); day != nil && known(day.Leakage.V) && day.Leakage.V > ninety*zeroIfUnknown(day.Leakage.SE) {
		return day.Zones
	}
	return nil
}

// collectorPlan finds a collector in the shop file.
func (s *server) collectorPlan(name string) *shop.Collector {
	for _, c := range s.Shop.Collectors {
		if c.Name == name {
			return c
		}
	}
	return nil
}

// figure is what stands below an open machine's name.
func (s units) figure(m estimate.MachineAir) (string, bool) {
	if !known(m.Flow.V) {
		return "air not known", false
	}
	number := strings.TrimSuffix(s.flowText(m.Flow), "\u00a0"+s.flow.unit)
	if !known(m.Needs) || m.Needs <= 0 {
		return join(number, s.flow.unit), false
	}
	return number + " of " + s.flowPlain(m.Needs), judge(m) == short
}
