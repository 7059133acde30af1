package dashboard

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/outbox"
)

// Delivery is what brings letters to people.
type Delivery interface {
	// Status tells how it goes with each target.
	Status() []outbox.Status
	// Of lists the letters about an alarm, oldest first.
	Of(alarmID string) []outbox.Item
	// Letters tells whether any target takes letters: a broker takes how alarms stand, and nothing else.
	Letters() bool
	// Test puts a test letter for every target that takes letters.
	Test(by string)
}

// alarmsBody is the content of the page of alarms.
type alarmsBody struct {
	Sentence string
	By, Done string
	Standing []alarmCard // troubling somebody
	Held     []alarmCard // put aside, or suppressed by design
	Budget   budget
	Weeks    []weekRow
	Targets  []targetRow // nil: the shop file names nobody
	Letters  bool        // some of them take letters
	Dead     []deadRow
	Sent     bool // a test has just been asked for
}

// alarmCard is one alarm with what a person can do about it.
type alarmCard struct {
	ID, Title, Word, Class string
	Text, State, Raised    string
	Held, Response         string
	NeedsAck, Active       bool
	Shelved, Out           bool
	Told                   []string
	Since, Sure, Action    string // "": not known
	Follows                []string
	Advice                 advice
	Cautions               []string
	Hours                  []int // for which it may be shelved
	By                     string
}

type targetRow struct {
	Name, Last, Waiting, Problem string
	Well                         bool
}

type deadRow struct{ Target, Subject, When, Why string }

// mostDead is how many letters that were given up the page shows.
const mostDead = 20

// alarmsView collects what stands, what is put aside, how much there was, and who was told.
func (s *server) alarmsView(rq *request) (any, error) {
	b := alarmsBody{By: remembered(rq.Request), Done: alarmDone[rq.URL.Query().Get("done")], Sent: rq.URL.Query().Get("done") == "test"}
	list := s.Alarms.List()
	slices.SortStableFunc(list, func(x, y alarm.Alarm) int { return cmp.Compare(alarmRank(x.Priority), alarmRank(y.Priority)) })
	for i := range list {
		a := &list[i]
		switch {
		case a.Held():
			b.Held = append(b.Held, s.alarmCard(a, rq.now, b.By))
		case a.Standing():
			b.Standing = append(b.Standing, s.alarmCard(a, rq.now, b.By))
		}
	}
	entries, err := s.Journal.Journal()
	if err != nil {
		return nil, fmt.Errorf("alarms: %w", err)
	}
	b.Budget = s.budget(list, entries, rq.now)
	b.Weeks = s.weekRows(&b.Budget)
	if s.Delivery != nil {
		b.Letters = s.Delivery.Letters()
		b.Targets, b.Dead = s.targets(rq.now)
	}
	b.Sentence = alarmsSentence(&b)
	return b, nil
}

// alarmDone says what was just done, by the word in the address.
var alarmDone = map[string]string{"shelve": "Shelved", "unshelve": "Taken off the shelf", "out": "Taken out of service", "back": "Back in service",
	"confirm": "Written down", "acknowledge": "Seen", "test": "A test letter is on its way to everybody"}

func alarmRank(p finding.Priority) int {
	_, rank := priorityClass(p)
	return rank
}

func (s *server) alarmCard(a *alarm.Alarm, now time.Time, by string) alarmCard {
	c := alarmCard{ID: a.ID, Title: causeTitle(a.Cause), Word: string(a.Priority), Text: s.proper(a.Text), State: string(a.State),
		Raised: s.moment(a.Raised, now), NeedsAck: a.State == alarm.ActiveUnacknowledged || a.State == alarm.ClearedUnacknowledged,
		Active: a.Active(), Shelved: a.Shelved != nil, Out: a.OutOfService != nil, By: by}
	c.Class, _ = priorityClass(a.Priority)
	c.Held = s.heldWords(a, now)
	if r := a.Response; r != nil {
		c.Response = fmt.Sprintf("%s found: %s. Done: %s", r.By, r.Found, r.Action)
	}
	c.Hours = []int{2, 8, 24}
	if a.Priority != finding.ActToday {
		c.Hours = append(c.Hours, 72, 168)
	}
	c.Told = s.toldWords(a.ID, now)
	c.Advice = newAdvice(a.Kind(), a.Confusable)
	for _, words := range a.Follows {
		c.Follows = append(c.Follows, s.proper(words))
	}
	if a.Active() {
		c.Action, c.Cautions = s.proper(a.Action), cautions(a.Kind())
	}
	if !a.Since.IsZero() {
		c.Since = s.moment(a.Since, now)
	}
	if a.Confidence > 0 {
		c.Sure = fmt.Sprintf("the ranges that are told hold with a probability of %.0f %%", 100*a.Confidence)
	}
	return c
}

// heldWords say why an alarm troubles nobody just now; "" where it is not held.
func (s *server) heldWords(a *alarm.Alarm, now time.Time) string {
	switch {
	case a.OutOfService != nil:
		return "Out of service, by " + a.OutOfService.By + ", " + s.moment(a.OutOfService.From, now) + ": " + a.OutOfService.Reason
	case a.Shelved != nil:
		return "Shelved until " + s.moment(a.Shelved.Until, now) + ", by " + a.Shelved.By + ": " + a.Shelved.Reason
	case a.Suppressed != "":
		return "Suppressed by design: " + a.Suppressed
	}
	return ""
}

// causeTitle says what an alarm is about.
func causeTitle(cause string) string {
	parts := strings.SplitN(cause, "/", 3)
	if len(parts) < 3 {
		return cause
	}
	title := kindTitle(finding.Kind(parts[1]))
	if parts[2] != "" {
		title += ": " + parts[2]
	}
	return title
}

// toldWords say of each target whether it has the newest letter about an alarm.
func (s *server) toldWords(id string, now time.Time) (out []string) {
	for _, it := range s.newestLetters(id) {
		switch t := it.Target; it.State {
		case outbox.Delivered:
			out = append(out, t+" was told ("+string(it.Letter.Event)+"), "+s.moment(it.Ended, now))
		case outbox.Waiting:
			out = append(out, t+" is not told yet"+because(it.Last))
		default:
			out = append(out, t+" was not told"+because(it.Last))
		}
	}
	return out
}

// newestLetters are the newest letters about an alarm, one a target.
func (s *server) newestLetters(id string) (out []outbox.Item) {
	if s.Delivery == nil {
		return nil
	}
	for _, it := range s.Delivery.Of(id) {
		at := slices.IndexFunc(out, func(o outbox.Item) bool { return o.Target == it.Target })
		if at < 0 {
			out = append(out, it)
		} else {
			out[at] = it
		}
	}
	return out
}

func because(why string) string {
	if why == "" {
		return ""
	}
	return ": " + why
}

// targets tells how it goes with each target, and what was given up.
func (s *server) targets(now time.Time) (rows []targetRow, dead []deadRow) {
	for _, t := range s.Delivery.Status() {
		r := targetRow{Name: t.Target, Last: "nothing was delivered yet", Waiting: "nothing", Problem: t.Problem, Well: t.Failures == 0}
		if !t.Last.IsZero() {
			r.Last = s.moment(t.Last, now)
		}
		if t.Waiting > 0 {
			r.Waiting = count(t.Waiting, "letter")
		}
		rows = append(rows, r)
		for i := range t.Dead {
			if it := &t.Dead[i]; it.Letter.Kind != outbox.Heartbeat && len(dead) < mostDead && now.Sub(it.Ended) < budgetDays*24*time.Hour {
				dead = append(dead, deadRow{t.Target, it.Letter.Subject, s.moment(it.Ended, now), it.Last})
			}
		}
	}
	return rows, dead
}

// alarmsSentence says at the top what it comes to.
func alarmsSentence(b *alarmsBody) string {
	text := capital(count(len(b.Standing), "alarm")) + plural(len(b.Standing), " stands", " stand")
	if n := len(b.Held); n > 0 {
		text += fmt.Sprintf(", %s put aside", count(n, "one"))
		text = strings.ReplaceAll(text, "one one", "one")
	}
	if n := len(b.Dead); n > 0 {
		text += "; " + count(n, "letter") + plural(n, " was", " were") + " not delivered"
	}
	return text + "."
}
