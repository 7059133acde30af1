package dashboard

import (
	"strings"
	"time"

	"ductward/internal/alarm"
	"ductward/internal/finding"
)

// findingCard is one finding in words.
type findingCard struct {
	ID, Title, Subject string
	Anchor             string // of its place on the page
	Word               string // priority in words
	Class              string // of its edge
	Text, Action       string
	Size, Since        string
	Raised, Ended      string
	Where              []placeLine
	Advice             advice
	Evidence           string
	Cautions           []string
	Asks               bool         // it asks something of a person now
	Held               string       // why it troubles nobody just now; "": it may
	Alarm              *alarmLine   // nil: none
	See                string       // address of the chart that shows it
	Collector          string       // "" where the shop has only one
	Done               []repairLine // what was done about it, and whether it worked

	rank int
	at   time.Time
}

// placeLine is one candidate for where it is.
type placeLine struct {
	Name    string
	Members string
	Percent string
	Share   float64 // 0..1
}

// alarmLine is what was told and who answered.
type alarmLine struct {
	ID, State, Raised, Acked string
	NeedsAck                 bool
}

// priorityClass gives the edge of a priority, and its place in the list.
func priorityClass(p finding.Priority) (string, int) {
	switch p {
	case finding.ActToday:
		return actToday.class(), 0
	case finding.Plan:
		return plan.class(), 2
	case finding.Instrument:
		return cannotTell.class(), 1
	}
	return "journal", 3
}

// card puts a finding into words.
func (s *server) card(f *finding.Finding, alarms map[string]alarm.Alarm, now time.Time) findingCard {
	c := findingCard{ID: f.ID, Anchor: anchor(f.ID), Title: kindTitle(f.Kind), Subject: f.Subject, Word: string(f.Priority), Text: s.proper(f.Text),
		Action: s.proper(f.Action), Size: s.sizeText(f), Since: s.sinceText(f, now), Raised: s.moment(f.Raised, now),
		Advice: newAdvice(f.Kind, f.ConfusableWith), Evidence: s.words(f.Evidence), Cautions: cautions(f.Kind), at: f.Raised}
	c.Class, c.rank = priorityClass(f.Priority)
	c.See, c.Asks = s.see(f, now), asking(f)
	if len(s.Shop.Collectors) > 1 {
		c.Collector = f.Collector
	}
	switch {
	case f.Priority == finding.Journal:
		c.Word = "for the record"
	case !f.Active():
		c.Ended, c.Class = s.moment(f.Ended, now), "ended"
	}
	for i, p := range f.Where {
		if i == maxPlaces {
			c.Where = append(c.Where, restOf(f.Where[i:]))
			break
		}
		c.Where = append(c.Where, newPlaceLine(p))
	}
	if a, ok := alarms[f.ID]; ok {
		c.Alarm = s.alarmLine(a, now)
	}
	return c
}

// anchor makes a name that stands in an address's fragment without escapes.
func anchor(id string) string {
	return "f-" + strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' {
			return r
		}
		return '-'
	}, id)
}

// see is the address of the chart that shows a finding.
func (s *server) see(f *finding.Finding, now time.Time) string {
	switch {
	case isLeak(f.Kind):
		return "/leaks"
	case strings.HasPrefix(string(f.Kind), "filter-"):
		return "/filter"
	}
	c, ok := s.channel(f.Subject)
	if !ok {
		return ""
	}
	from := f.Onset
	if from.IsZero() {
		from = f.Raised
	}
	if from.IsZero() || !from.Before(now) {
		return "/history?ch=" + queryEscape(c.Name)
	}
	margin := now.Sub(from)/4 + time.Hour // what was before it must be seen as well
	return "/history?" + s.spanQuery(span{[]channel{c}, from.Add(-margin), now})
}

// alarmLine says what was told and who answered.
func (s *server) alarmLine(a alarm.Alarm, now time.Time) *alarmLine {
	l := &alarmLine{ID: a.ID, State: string(a.State), Raised: s.moment(a.Raised, now),
		NeedsAck: a.State == alarm.ActiveUnacknowledged || a.State == alarm.ClearedUnacknowledged}
	if !a.Acked.IsZero() {
		l.Acked = "seen by " + a.AckedBy + ", " + s.moment(a.Acked, now)
	}
	return l
}
