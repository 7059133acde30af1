package dashboard

import (
	"fmt"
	"html/template"
	"strings"
	"time"

	"ductward/internal/journal"
	"ductward/internal/shop"
	"ductward/internal/watch"
)

// packBody is the record for whoever examines the plant: made to be printed, and complete for a period.
type packBody struct {
	Sentence, Problem string
	From, To          string
	Period, Made      string
	Systems           []packSystem
	Readings          []packReading
	Alarms            []packAlarm
	Days              []logDay
	Sensors           []packSensor
	Entries           int
	Head              string
}

// packSystem is one collector as the shop file describes it, with what it is compared with.
type packSystem struct {
	Name     string
	Facts    []packFact
	Sheet    template.HTML // the ducts with the test points; empty where there is no drawing
	Taps     []packFact
	Baseline string
	State    string
}

type packFact struct{ Name, Value string }

// packView collects what an examiner asks for.
func (s *server) packView(rq *request) (any, error) {
	b := packBody{Made: s.clockTime(rq.now)}
	from, to, err := s.period(rq)
	if err != nil {
		b.Problem = err.Error()
	}
	last := s.local(to.Add(-time.Second))
	b.From, b.To = s.local(from).Format(time.DateOnly), last.Format(time.DateOnly)
	b.Period = s.local(from).Format("2 January 2006") + " to " + last.Format("2 January 2006")
	entries, err := s.Journal.Journal()
	if err != nil {
		return nil, fmt.Errorf("pack: %w", err)
	}
	if b.Entries = len(entries); b.Entries > 0 {
		b.Head = journal.Head(entries).String()
	}
	if rq.snap != nil {
		latest := s.Readings.Latest()
		for i := range rq.snap.Collectors {
			c := &rq.snap.Collectors[i]
			b.Systems = append(b.Systems, s.packSystem(rq, c, s.stateOf(rq, c, latest), fmt.Sprint("p", i)))
			b.Sensors = append(b.Sensors, s.packSensors(c, rq.now)...)
		}
	}
	if b.Readings, err = s.packReadings(from, minTime(to, rq.now)); err != nil {
		return nil, err
	}
	b.Alarms = s.packAlarms(entries, from, to, rq.now)
	lines, err := s.logLines(rq, from, to)
	if err != nil {
		return nil, err
	}
	b.Days = s.logDays(lines)
	b.Sentence = fmt.Sprintf("%s, %s: %s, %s and %s in the period.", s.Shop.Name, b.Period,
		count(len(b.Alarms), "alarm"), count(len(lines), "line of the record"), count(len(b.Readings), "channel"))
	b.Sentence = strings.ReplaceAll(b.Sentence, "line of the records", "lines of the record")
	return b, nil
}

func minTime(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

// packSystem describes one collector.
func (s *server) packSystem(rq *request, c *watch.Collector, st state, id string) packSystem {
	p := packSystem{Name: c.Name, State: st.Sentence, Sheet: s.sheet(c, st, id), Baseline: "none is complete: " + c.Baseline.Lacks}
	if c.Baseline.Complete {
		p.Baseline = fmt.Sprintf("version %d, taken from %s to %s over %s; misfit %s", c.Baseline.Version, s.day(c.Baseline.From, rq.now),
			s.day(c.Baseline.To, rq.now), count(c.Baseline.GateSets, "gate set"), percentOr(c.Baseline.MisfitRMS))
	}
	plan := s.collectorPlan(c.Name)
	if plan == nil {
		return p
	}
	add := func(name, value string) {
		if value != "" {
			p.Facts = append(p.Facts, packFact{name, value})
		}
	}
	add("Machines", s.machineWords(plan))
	add("Filter, area", plainOr(plan.Filter.Area, "m²"))
	add("Filter, clean", s.dropWords(plan.Filter.CleanDrop, plan.Filter.CleanFlow))
	add("Filter, limit", s.dropWords(plan.Filter.Limit, plan.Filter.LimitFlow))
	rated := unknown
	if plan.Rating > 0 {
		rated = s.pressureText(plan.Rating) + " of suction"
	}
	add("Ducts rated to", rated)
	if plan.Transport > 0 {
		add("Transport speed", s.velocity.plain(plan.Transport))
	}
	for _, x := range plan.Sensors {
		at := measures[x.Measures].words
		if x.Run != "" {
			at += " at " + x.Run
			if x.TapAt == shop.AtStart {
				at += ", its end towards the machine"
			}
		}
		p.Taps = append(p.Taps, packFact{c.Name + "/" + x.Name, at})
	}
	return p
}

func (s *server) machineWords(plan *shop.Collector) string {
	var out []string
	for _, m := range plan.Machines {
		words := m.Name
		if known(m.Needs) {
			words += " (needs " + s.flowPlain(m.Needs) + ")"
		}
		out = append(out, words)
	}
	return strings.Join(out, ", ")
}

func (s *server) dropWords(drop, flow float64) string {
	if !known(drop) || drop <= 0 {
		return ""
	}
	text := s.pressureText(drop)
	if known(flow) && flow > 0 {
		text += " at " + s.flowPlain(flow)
	}
	return text
}

func percentOr(v float64) string {
	if !known(v) {
		return unknown
	}
	return join(plain(100*v), "%")
}
