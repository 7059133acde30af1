package dashboard

import (
	"fmt"
	"math"
	"sort"
	"strings"
	"time"

	"ductward/internal/estimate"
	"ductward/internal/watch"
)

// baselineView is the baseline in words.
type baselineView struct {
	State   string
	Asked   string // what the end of the day's work will bring
	Facts   []fact
	Making  bool // one is in the making
	Judge   int  // version that waits for a person's word; 0: none
	Before  int  // version that held before it; 0: none
	Sets    []setRow
	More    []setRow // those that lie nearer to the model
	Sensors []string
	History []versionRow
}

// setRow is how far one gate set lies from the calibrated model.
type setRow struct {
	Gates  string
	Seen   string
	Misfit []setCell // by sensor
	worst  float64
}

// setCell is one sensor's figure.
type setCell struct{ Sensor, Text string }

// versionRow is one baseline that there has been.
type versionRow struct {
	Version            int
	Days, Misfit, Word string
	GateSets           int
	Stands             bool
}

// mostSets is how many gate sets the page shows before the rest is folded away: those furthest from the model.
const mostSets = 8

// baselineView puts one collector's baseline into words.
func (s *server) baselineView(rq *request, c *watch.Collector) baselineView {
	x := &c.Baseline
	v := baselineView{State: s.baselineState(rq, x), Asked: askedWords(x), Making: !x.Complete || x.Asked.New}
	if !x.Complete || x.Asked.New {
		v.Facts = append(v.Facts, progressFacts(x)...)
	}
	if x.Complete {
		v.Facts = append(v.Facts, fact{"Version", fmt.Sprint(x.Version), ""}, fact{"Taken", s.interval(x.From, x.To, rq.now), ""})
		if len(x.Sets) > 0 {
			v.Facts = append(v.Facts, fact{"Misfit", misfitText(x.MisfitRMS), "root mean square over " + count(len(x.Sets), "gate set") + " and all sensors: how far the calibrated model is from what was read"})
		}
		if x.LeftOut > 0 {
			v.Facts = append(v.Facts, fact{"Left out", count(x.LeftOut, "run"), "read as with another gate open than told: were all moves of the gates noted, and do the switches work?"})
		}
	}
	for _, k := range x.Versions {
		if k.Stands && k.Accepted.IsZero() && x.Asked == (estimate.Change{}) {
			v.Judge, v.Before = k.Version, fallback(x.Versions, k.Version)
		}
		v.History = append(v.History, s.versionRow(rq, k))
	}
	v.Sensors, v.Sets = setRows(c)
	if len(v.Sets) > mostSets {
		v.Sets, v.More = v.Sets[:mostSets], v.Sets[mostSets:]
	}
	return v
}

// baselineState says in a sentence how the baseline stands.
func (s *server) baselineState(rq *request, x *estimate.Baseline) string {
	if x.Complete {
		text := fmt.Sprintf("Version %d of the baseline holds, taken %s", x.Version, s.interval(x.From, x.To, rq.now))
		for _, v := range x.Versions {
			if v.Stands && !v.Rejected.IsZero() {
				return text + "; it has been rejected."
			}
			if v.Stands && v.Accepted.IsZero() {
				return text + "; nobody has accepted it yet."
			}
		}
		return text + "."
	}
	text := fmt.Sprintf("A baseline is being taken: %d of %d working days", min(x.Days, x.DaysNeeded), x.DaysNeeded)
	if x.RunsNeeded > 0 {
		text += fmt.Sprintf(" and %d of %d steady runs", min(x.Runs, x.RunsNeeded), x.RunsNeeded)
	}
	return text + ". Until then nothing new can be told."
}

// progressFacts tell how far a baseline in the making has come.
func progressFacts(x *estimate.Baseline) []fact {
	out := []fact{{"Working days", fmt.Sprintf("%d of %d", x.Days, x.DaysNeeded), "with the gates used as usual"}}
	if x.RunsNeeded > 0 {
		out = append(out, fact{"Steady runs", fmt.Sprintf("%d of %d", x.Runs, x.RunsNeeded), "each with fan and gates unchanged"})
	}
	return out
}

// askedWords says what a person has asked for and is yet to come.
func askedWords(x *estimate.Baseline) string {
	const when = "when the next day’s work begins"
	switch {
	case x.Asked.New && x.Complete:
		return "A new baseline has been asked for. It takes the place of this one " + when + "; what is run from now on counts for it."
	case x.Asked.Back > 0:
		return fmt.Sprintf("Version %d will hold again %s.", x.Asked.Back, when)
	}
	return ""
}

// fallback is the newest version before one that was not rejected, 0 if there is none.
func fallback(all []estimate.Version, but int) int {
	for i := len(all) - 1; i >= 0; i-- {
		if all[i].Version < but && all[i].Rejected.IsZero() {
			return all[i].Version
		}
	}
	return 0
}

// versionRow puts a version into words.
func (s *server) versionRow(rq *request, v estimate.Version) versionRow {
	r := versionRow{Version: v.Version, Days: s.interval(v.From, v.To, rq.now), GateSets: v.GateSets, Misfit: misfitText(v.MisfitRMS), Stands: v.Stands}
	if v.GateSets == 0 { // without a drawing there is no model to be compared with
		r.Misfit = "none: no drawing"
	}
	var words []string
	if v.Stands {
		words = append(words, "holds")
	}
	by := func(what, who string, at time.Time) {
		if !at.IsZero() {
			words = append(words, what+" "+s.day(at, rq.now)+byName(who))
		}
	}
	by("accepted", v.AcceptedBy, v.Accepted)
	by("rejected", v.RejectedBy, v.Rejected)
	if len(words) == 0 {
		words = append(words, "not accepted")
	}
	r.Word = strings.Join(words, ", ")
	return r
}

// restoreForm lets an older version hold again.
type restoreForm struct {
	Collector, By string
	Versions      []int // newest first
}

func newRestoreForm(collector, by string, all []versionRow) restoreForm {
	f := restoreForm{Collector: collector, By: by}
	for i := len(all) - 1; i >= 0; i-- {
		if !all[i].Stands {
			f.Versions = append(f.Versions, all[i].Version)
		}
	}
	return f
}

func byName(who string) string {
	if who == "" {
		return ""
	}
	return " by " + who
}

// misfitText is a misfit as a share.
func misfitText(log float64) string {
	if !known(log) {
		return unknown
	}
	return spread(log, math.NaN(), 100, "%")
}

// setRows lists the gate sets, those furthest from the model first, with the sensors that their figures are of.
func setRows(c *watch.Collector) (sensors []string, rows []setRow) {
	at := map[string]int{}
	for _, set := range c.Baseline.Sets {
		for _, ch := range set.Channels {
			if _, ok := at[ch.Channel]; !ok {
				at[ch.Channel] = len(sensors)
				sensors = append(sensors, strings.TrimPrefix(ch.Channel, c.Name+"/"))
			}
		}
	}
	for _, set := range c.Baseline.Sets {
		r := setRow{Gates: gatesText(set), Seen: fmt.Sprintf("%s on %s", count(set.Runs, "run"), count(set.Days, "day")), Misfit: make([]setCell, len(sensors))}
		for i := range r.Misfit {
			r.Misfit[i] = setCell{sensors[i], "not read"}
		}
		for _, ch := range set.Channels {
			r.Misfit[at[ch.Channel]].Text = percent(ch.Misfit)
			r.worst = max(r.worst, math.Abs(ch.Misfit.V)-ch.Misfit.SE) // what its own error does not explain
		}
		rows = append(rows, r)
	}
	sort.SliceStable(rows, func(i, j int) bool { return rows[i].worst > rows[j].worst })
	return sensors, rows
}

// gatesText says which gates a set opens.
func gatesText(set estimate.SetFit) string {
	text := "every gate shut"
	if len(set.Open) > 0 {
		text = sentenceList(set.Open)
	}
	for _, p := range set.Ports {
		if p.Port == 0 {
			text += "; " + p.Selector + " on none"
		} else {
			text += fmt.Sprintf("; %s at port %d", p.Selector, p.Port)
		}
	}
	return text
}
