package dashboard

import (
	"fmt"
	"slices"
	"sort"
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
	Asks               bool       // it asks something of a person now
	Held               string     // why it troubles nobody just now; "": it may
	Alarm              *alarmLine // nil: none
	See                string     // address of the chart that shows it
	Collector          string     // "" where the shop has only one

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

// proper begins a sentence with a capital and writes quantities as the rest of the page does.
func (s units) proper(text string) string {
	return capital(strings.ReplaceAll(s.words(text), "m3/", "m³/"))
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

// maxPlaces is how many candidates one finding names; those are the likeliest, since they come in that order.
const maxPlaces = 6

// restOf sums up the candidates that are not named one by one.
func restOf(places []finding.Place) placeLine {
	sum := 0.0
	for _, p := range places {
		sum += zeroIfUnknown(p.Probability)
	}
	return placeLine{Name: fmt.Sprintf("In %s that are less likely", count(len(places), "other place")), Percent: shareText(sum), Share: sum}
}

// newPlaceLine puts one candidate into words.
func newPlaceLine(p finding.Place) placeLine {
	l := placeLine{Name: capital(partName(p.Part)), Share: p.Probability, Percent: shareText(p.Probability)}
	if len(p.Members) > 0 {
		l.Name, l.Members = capital(groupName(p.Members)), "cannot be told apart"
	}
	return l
}

// shareText writes a probability as people weigh it: nothing is certain, and one in a hundred is as fine as it goes.
func shareText(p float64) string {
	switch {
	case !known(p):
		return unknown
	case p > 0.99:
		return "over 99 %"
	case p < 0.01:
		return "under 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
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

// sizeText says how large it is with the interval in which it lies.
func (s units) sizeText(f *finding.Finding) string {
	if !known(f.Size) {
		return ""
	}
	factor, unit := s.sizeUnit(f)
	if !known(f.SizeLow) || !known(f.SizeHigh) || f.SizeHigh <= f.SizeLow {
		return join(plain(f.Size*factor), unit)
	}
	d := decimals((f.SizeHigh - f.SizeLow) * factor / 2)
	text := "about " + join(fixed(f.Size*factor, d), unit) + ", between " + fixed(f.SizeLow*factor, d) + " and " +
		join(fixed(f.SizeHigh*factor, d), unit)
	if f.Confidence > 0 && f.Confidence < 1 {
		text += fmt.Sprintf(" (%s)", oddsText(f.Confidence))
	}
	return text
}

// oddsText says how often such an interval holds the truth: "9 times in 10".
func oddsText(confidence float64) string {
	tenths := confidence * 10
	if r := float64(int(tenths + 0.5)); tenths-r < 0.02 && r-tenths < 0.02 && r < 10 {
		return fmt.Sprintf("%d times in 10", int(r))
	}
	return fmt.Sprintf("%.0f times in 100", confidence*100)
}

// sizeUnit says in which unit a finding's size is shown.
func (s units) sizeUnit(f *finding.Finding) (float64, string) {
	switch f.SizeUnit {
	case "m3/s":
		return s.flow.factor, s.flow.unit
	case "m3/s per day":
		return s.flow.factor, s.flow.unit + " a day"
	case "m3/s/month", "m3/s per month":
		return s.flow.factor, s.flow.unit + " a month"
	case "Pa":
		return s.pressure.factor, s.pressure.unit
	case "m/s":
		return s.velocity.factor, s.velocity.unit
	case "1":
		return 100, "%"
	case "d":
		return 1, "days"
	}
	return 1, f.SizeUnit
}

// sinceText says since when it has been so, and how sure that is.
func (s *server) sinceText(f *finding.Finding, now time.Time) string {
	switch {
	case f.Onset.IsZero() && f.OnsetLow.IsZero():
		return ""
	case f.OnsetLow.IsZero() || f.OnsetHigh.IsZero():
		return s.moment(f.Onset, now)
	}
	a, b := s.day(f.OnsetLow, now), s.day(f.OnsetHigh, now)
	if a == b {
		return a
	}
	if f.Onset.IsZero() {
		return "between " + a + " and " + b
	}
	return "about " + s.day(f.Onset, now) + " (between " + a + " and " + b + ")"
}

// cards puts all findings that keep passes into words: worst first, then the newest.
func (s *server) cards(rq *request, keep func(*finding.Finding) bool) []findingCard {
	if rq.snap == nil {
		return nil
	}
	alarms := map[string]alarm.Alarm{}
	for _, a := range s.Alarms.List() {
		alarms[a.ID] = a
	}
	held := s.held()
	var out []findingCard
	for i := range rq.snap.Collectors {
		c := &rq.snap.Collectors[i]
		for j := range c.Findings {
			f := &c.Findings[j]
			if !keep(f) {
				continue
			}
			card := s.card(f, alarms, rq.now)
			if a, ok := held[alarm.Cause(f)]; ok && asking(f) {
				card.Held, card.Asks, card.Class, card.rank = s.heldWords(&a, rq.now), false, "journal", 3
				if card.Alarm != nil {
					card.Alarm.NeedsAck = false
				}
			}
			out = append(out, card)
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		if out[i].rank != out[j].rank {
			return out[i].rank < out[j].rank
		}
		return out[i].at.After(out[j].at)
	})
	return out
}

// asking keeps what asks something of a person now.
func asking(f *finding.Finding) bool { return f.Active() && f.Priority != finding.Journal }

// aside are the alarms that trouble nobody just now, by their cause and by the finding that they speak of: shelved, out of
// service, suppressed by design.
type aside map[string]alarm.Alarm

func (s *server) held() aside {
	out := aside{}
	for _, a := range s.Alarms.List() {
		if a.Held() {
			out[a.Cause], out[a.Finding] = a, a
		}
	}
	return out
}

func (h aside) has(f *finding.Finding) bool {
	_, ok := h[alarm.Cause(f)]
	if _, under := h[f.Under]; under && f.Under != "" { // it has no alarm of its own
		return true
	}
	return ok
}

// quiets tells whether being put aside takes a finding out of the state of the plant.
func (h aside) quiets(f *finding.Finding) bool { return f.Priority != finding.Instrument && h.has(f) }

// asks keeps what asks something of a person now and is not put aside.
func (h aside) asks(f *finding.Finding) bool { return asking(f) && !h.has(f) }

// holds keeps what would ask, were it not put aside.
func (h aside) holds(f *finding.Finding) bool { return asking(f) && h.has(f) }

// findingsBody is the content of the findings page.
type findingsBody struct {
	Sentence string
	Asking   []findingCard // active, worst first
	Held     []findingCard // active, and put aside
	Unseen   []alarmLine   // alarms whose finding is gone and that nobody has seen
	UnseenOf []string
	Record   []findingCard // ended, and what asks nothing; newest first
	By       string
	Lacks    []string
}

// findingsView collects what was found.
func (s *server) findingsView(rq *request) (any, error) {
	held := s.held()
	b := findingsBody{Asking: s.cards(rq, held.asks), Held: s.cards(rq, held.holds), By: remembered(rq.Request)}
	b.Record = s.cards(rq, func(f *finding.Finding) bool { return !asking(f) })
	sort.SliceStable(b.Record, func(i, j int) bool { return b.Record[i].at.After(b.Record[j].at) })
	b.Record = b.Record[:min(len(b.Record), maxRecord)]
	shown := map[string]bool{}
	for _, c := range slices.Concat(b.Asking, b.Held, b.Record) {
		shown[c.ID] = true
	}
	for _, a := range s.Alarms.List() {
		if l := s.alarmLine(a, rq.now); l.NeedsAck && !shown[a.ID] && !a.Held() {
			b.Unseen, b.UnseenOf = append(b.Unseen, *l), append(b.UnseenOf, s.words(a.Text))
		}
	}
	if rq.snap != nil {
		for _, c := range rq.snap.Collectors {
			b.Lacks = append(b.Lacks, c.Lacks...)
		}
	}
	b.Sentence = findingsSentence(rq, b.Asking)
	return b, nil
}

// maxRecord is how many past findings the page shows; the logbook shows them all by their day.
const maxRecord = 60

// findingsSentence says at the top what the list comes to.
func findingsSentence(rq *request, asking []findingCard) string {
	if rq.snap == nil {
		return "Nothing has been looked at yet."
	}
	counts := map[string]int{}
	for _, c := range asking {
		counts[c.Class]++
	}
	var parts []string
	if n := counts[actToday.class()]; n > 0 {
		parts = append(parts, fmt.Sprintf("%s to act on today", count(n, "thing")))
	}
	if n := counts[plan.class()]; n > 0 {
		parts = append(parts, fmt.Sprintf("%s to plan", count(n, "thing")))
	}
	if n := counts[cannotTell.class()]; n > 0 {
		parts = append(parts, fmt.Sprintf("%s with the instruments", count(n, "trouble")))
	}
	if len(parts) == 0 {
		return "Nothing that was found asks anything of you."
	}
	verb := "There are "
	if strings.HasPrefix(parts[0], "one ") {
		verb = "There is "
	}
	return verb + sentenceList(parts) + "."
}

// count writes small numbers as words.
func count(n int, what string) string {
	words := []string{"no", "one", "two", "three", "four", "five", "six"}
	if n < len(words) {
		return words[n] + " " + what + plural(n, "", "s")
	}
	return fmt.Sprintf("%d %s%s", n, what, plural(n, "", "s"))
}
