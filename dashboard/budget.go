package dashboard

import (
	"cmp"
	"net/http"
	"slices"
	"time"

	"ductward/internal/alarm"
	"ductward/internal/journal"
)

// A small shop's budget: alarms a working day and a week that still get an answer each, and how many may stand for over a day
// (common practice, no source).
const (
	budgetDays     = 30
	budgetPerWeek  = 5
	budgetPerDay   = 1
	budgetStanding = 5
	mostWorst      = 10
)

// budget is how much the shop was troubled, beside what a shop can bear.
type budget struct {
	Days, Raised int
	Week         float64 // raised in a week, on the mean
	Within       bool    // the mean is one that a shop can answer
	Long         int     // standing over a day
	Daily        []dayCount
	Worst        []worstRow
}

// dayCount is how many alarms were raised on a civil day.
type dayCount struct {
	Date   time.Time // midnight
	Raised int
}

type worstRow struct {
	Title string
	Cause string // "": the alarm is no longer kept
	Times int
}

// budget counts the alarms of the last 30 days by the logbook.
func (s *server) budget(list []alarm.Alarm, entries []journal.Entry, now time.Time) budget {
	today := s.local(now)
	b := budget{Days: budgetDays}
	for i := range budgetDays {
		b.Daily = append(b.Daily, dayCount{Date: time.Date(today.Year(), today.Month(), today.Day()-budgetDays+1+i, 0, 0, 0, 0, today.Location())})
	}
	causes := map[string]string{}
	for i := range list {
		causes[list[i].ID] = list[i].Cause
		if list[i].Active() && now.Sub(list[i].Raised) > 24*time.Hour {
			b.Long++
		}
	}
	times := map[string]worstRow{}
	for i := range entries {
		e := &entries[i]
		if e.Kind != journal.Alarm || e.Event != string(alarm.Raised) || e.Time.Before(b.Daily[0].Date) || e.Time.After(now) {
			continue
		}
		b.Raised++
		b.Daily[budgetDays-1-dayNumber(today)+dayNumber(s.local(e.Time))].Raised++
		cause := causes[e.Alarm]
		row := worstRow{causeTitle(cmp.Or(cause, e.Alarm)), cause, times[cmp.Or(cause, e.Alarm)].Times + 1}
		times[cmp.Or(cause, e.Alarm)] = row
	}
	for _, row := range times {
		b.Worst = append(b.Worst, row)
	}
	slices.SortFunc(b.Worst, func(x, y worstRow) int { return cmp.Or(y.Times-x.Times, cmp.Compare(x.Title, y.Title)) })
	b.Worst = b.Worst[:min(len(b.Worst), mostWorst)]
	b.Week = 7 * float64(b.Raised) / budgetDays
	b.Within = b.Week <= budgetPerWeek
	return b
}

// PerWeek is the mean in words.
func (b budget) PerWeek() string { return fixed(b.Week, 1) }

// weekRow is one week of the budget in words.
type weekRow struct {
	Days         string
	Raised, Most int // in all, and on its busiest day
	Over         bool
}

// weekRows cuts the days into weeks that end today, the newest first. The oldest has the days that are left.
func (s *server) weekRows(b *budget) (rows []weekRow) {
	for end := len(b.Daily); end > 0; end -= 7 {
		week := b.Daily[max(0, end-7):end]
		r := weekRow{Days: week[0].Date.Format("2 January") + " to " + week[len(week)-1].Date.Format("2 January")}
		for _, d := range week {
			r.Raised += d.Raised
			r.Most = max(r.Most, d.Raised)
		}
		r.Over = r.Raised > budgetPerWeek
		rows = append(rows, r)
	}
	return rows
}

// budgetDTO is the budget as programs read it.
type budgetDTO struct {
	Days          int           `json:"days"`
	Raised        int           `json:"raised"`
	PerWeek       float64       `json:"per_week"`
	Within        bool          `json:"within_budget"`
	Standing      int           `json:"standing_over_a_day"`
	MayPerWeek    int           `json:"budget_per_week"`
	MayPerDay     int           `json:"budget_per_day"`
	MayStand      int           `json:"budget_standing_over_a_day"`
	RaisedByDay   []dayCountDTO `json:"by_day"`
	MostFrequent  []worstDTO    `json:"worst"`
	CountedByZone string        `json:"time_zone"`
}

type dayCountDTO struct {
	Date   string `json:"date"`
	Raised int    `json:"raised"`
}

type worstDTO struct {
	Title string `json:"title"`
	Cause string `json:"cause"`
	Times int    `json:"times"`
}

// apiBudget answers with how much the shop was troubled by alarms.
func (s *server) apiBudget(w http.ResponseWriter, r *http.Request) {
	entries, err := s.Journal.Journal()
	if err != nil {
		s.trouble(w, r, err)
		return
	}
	b := s.budget(s.Alarms.List(), entries, s.Clock.Now())
	out := budgetDTO{Days: b.Days, Raised: b.Raised, PerWeek: b.Week, Within: b.Within, Standing: b.Long, MayPerWeek: budgetPerWeek,
		MayPerDay: budgetPerDay, MayStand: budgetStanding, RaisedByDay: []dayCountDTO{}, MostFrequent: []worstDTO{}, CountedByZone: s.location().String()}
	for _, d := range b.Daily {
		out.RaisedByDay = append(out.RaisedByDay, dayCountDTO{d.Date.Format(time.DateOnly), d.Raised})
	}
	for _, x := range b.Worst {
		out.MostFrequent = append(out.MostFrequent, worstDTO(x))
	}
	writeJSON(w, http.StatusOK, out)
}
