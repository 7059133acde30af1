package main

import (
	"io"
	"time"

	"ductward/internal/diagnosis"
	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/watch"
)

// The shapes below are a contract with other programs: keys are added, never renamed or given another meaning.

type replayJSON struct {
	ReferenceSuction number                `json:"reference_suction_pa"`
	Collectors       []replayCollectorJSON `json:"collectors"`
}

type replayCollectorJSON struct {
	Name     string          `json:"name"`
	Baseline baselineJSON    `json:"baseline"`
	Days     []dayJSON       `json:"days"`
	Findings []findingJSON   `json:"findings"`
	Alarms   []alarmJSON     `json:"alarms"`
	Lacks    []string        `json:"lacks"`
	NextTest *nextTestJSON   `json:"next_test"`
	Gates    []gatesToldJSON `json:"gates_told"`
}

// gatesToldJSON is what the pressures tell of the gates of one run in which some positions are not known.
type gatesToldJSON struct {
	From        moment   `json:"from"`
	To          moment   `json:"to"`
	Open        []string `json:"open"`
	Machines    []string `json:"machines"`
	Probability number   `json:"probability"`
	None        number   `json:"none_of_these"`
	Used        bool     `json:"used"`
}

type baselineJSON struct {
	From     moment `json:"from"`
	To       moment `json:"to"`
	GateSets int    `json:"gate_sets"`
	Misfit   number `json:"misfit_rms"`
	Complete bool   `json:"complete"`
	Lacks    word   `json:"lacks"`
	LeftOut  int    `json:"runs_left_out"` // they read as with another gate open than told
}

type dayJSON struct {
	Date         word           `json:"date"`
	FanHours     number         `json:"fan_hours"`
	Filter       number         `json:"filter_resistance_ratio"`
	FilterSD     number         `json:"filter_resistance_ratio_sd"`
	Leakage      number         `json:"new_leakage_m3_s"`
	LeakageSD    number         `json:"new_leakage_m3_s_sd"`
	Fan          number         `json:"fan_speed_ratio"`
	FanSD        number         `json:"fan_speed_ratio_sd"`
	Blockage     []blockageJSON `json:"blockage"`
	Zones        []zoneJSON     `json:"zones"`
	ClosedChecks int            `json:"closed_checks"`
	Guessed      int            `json:"runs_gates_told"`
	Unsure       int            `json:"runs_gates_unsure"`
	Due          *dueJSON       `json:"cleaning_due"`
}

type blockageJSON struct {
	Machine string `json:"machine"`
	Factor  number `json:"loss_factor"`
	SD      number `json:"loss_factor_sd"`
}

type zoneJSON struct {
	Part        string   `json:"part"`
	Members     []string `json:"members,omitempty"`
	Probability number   `json:"probability"`
	Leakage     number   `json:"new_leakage_m3_s"`
}

type dueJSON struct {
	Date       moment `json:"date"`
	Low        moment `json:"low"`
	High       moment `json:"high"`
	Confidence number `json:"confidence"`
	Reason     string `json:"reason"`
}

type findingJSON struct {
	ID         string      `json:"id"`
	Kind       string      `json:"kind"`
	Subject    word        `json:"subject"`
	Priority   string      `json:"priority"`
	Raised     moment      `json:"raised"`
	Onset      moment      `json:"onset"`
	OnsetLow   moment      `json:"onset_low"`
	OnsetHigh  moment      `json:"onset_high"`
	Ended      moment      `json:"ended"`
	Size       number      `json:"size"`
	SizeLow    number      `json:"size_low"`
	SizeHigh   number      `json:"size_high"`
	SizeUnit   word        `json:"size_unit"`
	Confidence number      `json:"confidence"`
	Where      []placeJSON `json:"where"`
	Confusable []string    `json:"confusable_with"`
	Text       string      `json:"text"`
	Action     string      `json:"action"`
	Under      word        `json:"under"`

	diagnosis.Advice
}

type placeJSON struct {
	Part        string   `json:"part"`
	Members     []string `json:"members,omitempty"`
	Probability number   `json:"probability"`
}

type alarmJSON struct {
	Finding  string `json:"finding"`
	Priority string `json:"priority"`
	Raised   moment `json:"raised"`
	Cleared  moment `json:"cleared"`
}

// writeReplayJSON writes the whole outcome as one object.
func writeReplayJSON(w io.Writer, o *outcome) error {
	out := replayJSON{ReferenceSuction: number(o.snapshot.ReferenceSuction), Collectors: []replayCollectorJSON{}}
	for i := range o.snapshot.Collectors {
		c := &o.snapshot.Collectors[i]
		out.Collectors = append(out.Collectors, o.collectorJSON(c))
	}
	return writeJSON(w, out)
}

// at labels a moment with the shop's own time.
func (o *outcome) at(t time.Time) moment { return moment(t.In(o.location)) }

func (o *outcome) collectorJSON(c *watch.Collector) replayCollectorJSON {
	out := replayCollectorJSON{
		Name: c.Name,
		Baseline: baselineJSON{From: o.at(c.Baseline.From), To: o.at(c.Baseline.To), GateSets: c.Baseline.GateSets,
			Misfit: number(c.Baseline.MisfitRMS), Complete: c.Baseline.Complete, Lacks: word(c.Baseline.Lacks),
			LeftOut: c.Baseline.LeftOut},
		Days: []dayJSON{}, Findings: []findingJSON{}, Alarms: []alarmJSON{}, Lacks: append([]string{}, c.Lacks...),
		Gates: []gatesToldJSON{},
	}
	for _, g := range c.Guesses {
		out.Gates = append(out.Gates, gatesToldJSON{o.at(g.From), o.at(g.To), append([]string{}, g.Open...), append([]string{}, g.Machines...),
			number(g.Probability), number(g.None), g.Used})
	}
	for i := range c.Days {
		out.Days = append(out.Days, o.dayJSON(&c.Days[i]))
	}
	for i := range c.Findings {
		out.Findings = append(out.Findings, o.findingJSON(&c.Findings[i]))
	}
	out.NextTest = newNextTestJSON(c.NextTest)
	for _, a := range o.alarms[c.Name] {
		out.Alarms = append(out.Alarms, alarmJSON{a.finding, string(a.priority), o.at(a.raised), o.at(a.cleared)})
	}
	return out
}

func (o *outcome) dayJSON(d *estimate.Day) dayJSON {
	out := dayJSON{
		Date: word(d.Date), FanHours: number(d.FanHours), ClosedChecks: d.ClosedChecks, Guessed: d.Guessed, Unsure: d.Unsure,
		Filter: number(d.FilterRatio.V), FilterSD: number(d.FilterRatio.SE),
		Leakage: number(d.Leakage.V), LeakageSD: number(d.Leakage.SE),
		Fan: number(d.FanRatio.V), FanSD: number(d.FanRatio.SE),
		Blockage: []blockageJSON{}, Zones: []zoneJSON{},
	}
	for _, b := range d.Blockage {
		out.Blockage = append(out.Blockage, blockageJSON{b.Machine, number(b.Factor.V), number(b.Factor.SE)})
	}
	for _, z := range d.Zones {
		out.Zones = append(out.Zones, zoneJSON{z.Part, z.Members, number(z.Probability), number(z.Leakage.V)})
	}
	if d.Due != nil {
		out.Due = &dueJSON{o.at(d.Due.Date), o.at(d.Due.Low), o.at(d.Due.High), number(d.Due.Confidence), d.Due.Reason}
	}
	return out
}

func (o *outcome) findingJSON(f *finding.Finding) findingJSON {
	out := findingJSON{
		ID: f.ID, Kind: string(f.Kind), Subject: word(f.Subject), Priority: string(f.Priority),
		Raised: o.at(f.Raised), Onset: o.at(f.Onset), OnsetLow: o.at(f.OnsetLow), OnsetHigh: o.at(f.OnsetHigh),
		Ended: o.at(f.Ended), Size: number(f.Size), SizeLow: number(f.SizeLow), SizeHigh: number(f.SizeHigh),
		SizeUnit: word(f.SizeUnit), Confidence: number(f.Confidence), Where: []placeJSON{},
		Confusable: append([]string{}, f.ConfusableWith...), Text: f.Text, Action: f.Action, Under: word(f.Under),
		Advice: diagnosis.For(f.Kind),
	}
	for _, p := range f.Where {
		out.Where = append(out.Where, placeJSON{p.Part, p.Members, number(p.Probability)})
	}
	return out
}
