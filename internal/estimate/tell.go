package estimate

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"time"

	"ductward/internal/detect"
	"ductward/internal/finding"
)

// confidence is that of every interval that a finding carries.
const confidence = 0.9

// holeDischarge is the discharge coefficient of the equivalent open area: that of a sharp edge (ACGIH Industrial
// Ventilation: a sharp-edged orifice loses 1.78 velocity pressures, so 1/√2.78 = 0.6).
const holeDischarge = 0.6

// OpenArea returns the equivalent open area in m² of a leak (m³/s) at a suction (Pa) and density (kg/m³).
func OpenArea(flow, suction, density float64) float64 {
	return flow / (holeDischarge * math.Sqrt(2*suction/density))
}

// tell raises the finding of a change.
func (e *Estimator) tell(c *change) {
	kind := e.kindOf(c)
	f := finding.Finding{
		Collector: e.collector.Name,
		Kind:      kind,
		Subject:   e.subjectOf(c),
		Raised:    e.lastAt,
		Priority:  e.priorityOf(c, kind),
	}
	f.ID = e.newID(kind, f.Subject, e.dayTime(c.onset))
	c.finding = f.ID
	e.fill(&f, c)
	e.findings = append(e.findings, f)
}

// newID names a finding by what it is and when it began, so that a rebuild gives the same names.
func (e *Estimator) newID(kind finding.Kind, subject string, onset time.Time) string {
	if !onset.IsZero() {
		onset = onset.In(e.site.Location)
	}
	return finding.NewID(e.findings, e.collector.Name, string(kind), subject, onset)
}

// retell brings the finding of a change up to date.
func (e *Estimator) retell(c *change) {
	for i := range e.findings {
		if f := &e.findings[i]; f.ID == c.finding && f.Active() {
			f.Kind = e.kindOf(c)
			f.Subject = e.subjectOf(c)
			f.Priority = e.priorityOf(c, f.Kind)
			e.fill(f, c)
		}
	}
}

// tellMended ends the finding of a leak that became less, and notes it.
func (e *Estimator) tellMended(c *change, s *detect.Score) {
	day := e.dayTime(e.days[s.Onset].at)
	for i := range e.findings {
		if f := &e.findings[i]; f.ID == c.finding && f.Active() && c.final == 0 {
			f.Ended = day
		}
	}
	sd := math.Sqrt(s.Variance)
	q := detect.Quantile(confidence)
	f := finding.Finding{
		Collector: e.collector.Name, Kind: finding.LeakMended, Subject: e.subjectOf(c), Priority: finding.Journal,
		Raised: e.lastAt, Onset: day, OnsetLow: day, OnsetHigh: day, Ended: day,
		Size: -s.Size, SizeLow: -s.Size - q*sd, SizeHigh: -s.Size + q*sd, SizeUnit: "m3/s", Confidence: confidence,
	}
	f.ID = e.newID(f.Kind, f.Subject, day)
	f.Text = fmt.Sprintf("Leakage fell by %s at %s; %s of the leak found before is left.",
		flowWords(-s.Size, sd), e.suctionWords(), flowWords(c.final, sd))
	e.findings = append(e.findings, f)
}

// tellUndone ends the finding of another change that went back, or says what is left of it.
func (e *Estimator) tellUndone(c *change, s *detect.Score) {
	if c.final != 0 {
		c.mean, c.sd = c.final, math.Sqrt(s.Variance)
		e.retell(c)
		return
	}
	day := e.dayTime(e.days[s.Onset].at)
	for i := range e.findings {
		if f := &e.findings[i]; f.ID == c.finding && f.Active() {
			f.Ended = day
			f.Text += fmt.Sprintf(" Since %s it is as at the baseline again.", e.dateWords(day))
		}
	}
}

// fill writes size, time, place and words of a change into its finding.
func (e *Estimator) fill(f *finding.Finding, c *change) {
	q := detect.Quantile(confidence)
	f.Confidence = confidence
	f.Size, f.SizeLow, f.SizeHigh = c.mean, c.mean-q*c.sd, c.mean+q*c.sd
	f.SizeUnit = "m3/s"
	if !e.cols.isLeak(c.col) {
		f.SizeUnit = "1" // the log of a factor
		f.Size, f.SizeLow, f.SizeHigh = math.Exp(f.Size), math.Exp(f.SizeLow), math.Exp(f.SizeHigh)
	} else {
		f.SizeLow = max(f.SizeLow, 0)
	}
	f.Onset, f.OnsetLow, f.OnsetHigh = e.dayTime(min(c.onset, c.told)), e.dayTime(min(c.low, c.told)), e.dayTime(min(c.high, c.told))
	f.Where = e.places(c)
	if f.Kind == finding.OpenSideChanged {
		e.withOpenSide(f)
	}
	e.advise(f, c)
	e.words(f, c)
}

// withOpenSide puts the machine's open side beside the loss of its drop: a hose that lets air in and a drop that resists
// less read the same.
func (e *Estimator) withOpenSide(f *finding.Finding) {
	side := "open-side:" + f.Subject
	if !slices.Contains(e.cols.zones, side) {
		return
	}
	for i := range f.Where {
		p := &f.Where[i]
		if p.Part != "blockage:"+f.Subject || slices.Contains(p.Members, side) {
			continue
		}
		if p.Members == nil {
			p.Members = []string{p.Part}
		}
		p.Members = append(slices.Clone(p.Members), side)
	}
}

// alike is the expected log evidence for one place against another, if the change is there, below which the two are told
// as one: odds of less than three to one.
const alike = 1.1

// places lists where a change may be, most probable first. Places that the record cannot tell apart are one entry, under
// the name of the most probable; what is too improbable to name is 'other'.
func (e *Estimator) places(c *change) []finding.Place {
	order := make([]int, len(c.mass))
	for j := range order {
		order[j] = j
	}
	sort.SliceStable(order, func(a, b int) bool { return c.mass[order[a]] > c.mass[order[b]] })
	apart := e.apart(c)
	var out []finding.Place
	var leaders []int
	other := 0.0
	for _, j := range order {
		p := c.mass[j]
		at := slices.IndexFunc(leaders, func(l int) bool { return e.oneGroup(l, j, apart) })
		switch {
		case at >= 0 && p > 0.002:
			out[at].Probability += p
			if part := e.cols.part(j); part != out[at].Part && !slices.Contains(out[at].Members, part) {
				if out[at].Members == nil {
					out[at].Members = []string{out[at].Part}
				}
				out[at].Members = append(out[at].Members, part)
			}
		case at < 0 && p >= 0.02:
			leaders = append(leaders, j)
			out = append(out, e.place(c, j, p))
		default:
			other += p
		}
	}
	sort.SliceStable(out, func(a, b int) bool { return out[a].Probability > out[b].Probability })
	if other > 0 {
		out = append(out, finding.Place{Part: "other", Probability: other})
	}
	return out
}

// oneGroup tells whether two columns are told as one place: what the record cannot tell apart, one part under two columns,
// and a machine's open side with the loss of its drop, which no pressure can part.
func (e *Estimator) oneGroup(lead, j int, apart func(i, j int) float64) bool {
	k := &e.cols
	switch a, b := k.kind(lead), k.kind(j); {
	case a == b && (a == leakChange || a == chokeChange):
		return k.part(lead) == k.part(j) || apart(lead, j) < alike
	case a == leakChange && b == blockChange:
		return k.zones[lead] == "open-side:"+k.machines[j-k.block0]
	case a == blockChange && b == leakChange:
		return k.zones[j] == "open-side:"+k.machines[lead-k.block0]
	}
	return false
}

// apart returns how far the days since a change tell column j from column i, if the change is at i with the size found:
// what j cannot explain of i's signature, as half a chi-square.
func (e *Estimator) apart(c *change) func(i, j int) float64 {
	sum := detect.NewInformation(e.cols.changes)
	for _, d := range e.days {
		if d.at >= c.onset {
			sum.Add(1, d.info)
		}
	}
	k := c.mean * c.mean / (2 * e.scatter.inflation())
	return func(i, j int) float64 {
		cross := sum.Lambda.At(i, j)
		return k * (sum.Lambda.At(i, i) - cross*cross/sum.Lambda.At(j, j))
	}
}

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
		{words: "a change of the fan's speed" + e.orBehindTap()},
		{words: "a wheel that is caked, worn or turns backwards"},
		{words: "a restriction after the tap"},
		{words: "a change of a sensor or its tap"},
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
	case e.cols.kind(c.col) != scaleChange: // of the fan
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

// priorityOf tells what a change asks of a person.
func (e *Estimator) priorityOf(c *change, kind finding.Kind) finding.Priority {
	switch kind {
	case finding.SensorDisagrees:
		return finding.Instrument
	case finding.NewLeak, finding.GrowingLeak, finding.GateLeaks:
		if c.mean < e.collector.Alarms.LeakToTell {
			return finding.Journal
		}
		if flow := e.typicalFlow(); c.profile == detect.Step && c.mean > 0.15*flow {
			return finding.ActToday
		}
	case finding.RestrictionAfterTap:
		if c.mean > 0 {
			return finding.Journal
		}
		if c.mean < math.Log(halfPressure) { // some machine is surely without its air
			return finding.ActToday
		}
	case finding.FanSlow:
		if 2*c.mean < math.Log(halfPressure) {
			return finding.ActToday
		}
		if c.mean > 0 {
			return finding.Journal // a fan that turns faster asks for nothing
		}
	case finding.DropBlocked, finding.OpenSideChanged:
		if math.Abs(c.mean) < slightBlock {
			return finding.Journal
		}
		if c.mean > math.Log(2) {
			return finding.ActToday
		}
	}
	return finding.Plan
}

// typicalFlow returns the mean flow of the last day that has one, in m³/s; +Inf where none is known.
func (e *Estimator) typicalFlow() float64 {
	for i := len(e.summary) - 1; i >= 0; i-- {
		if v := e.summary[i].Flow.V; v > 0 {
			return v
		}
	}
	return math.Inf(1)
}

// dayTime returns the civil time of the first run of a day among all days; zero where it is not known.
func (e *Estimator) dayTime(at int) time.Time {
	for _, d := range e.days {
		if d.at == at && len(d.obs) > 0 {
			return d.obs[0].run.At
		}
	}
	if at >= 0 && at < len(e.summary) {
		if t, err := time.ParseInLocation("2006-01-02", e.summary[at].Date, e.site.Location); err == nil {
			return t
		}
	}
	return time.Time{}
}
