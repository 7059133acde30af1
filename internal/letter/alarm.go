package letter

import (
	"fmt"
	"strings"
	"time"

	"ductward/internal/alarm"
	"ductward/internal/caution"
	"ductward/internal/diagnosis"
	"ductward/internal/outbox"
)

// Origin is where a letter comes from.
type Origin struct {
	Shop string
	Boot uint32
	At   time.Time      // now, civil
	To   []string       // the targets that are told
	Zone *time.Location // of the times in the words
}

// Tells tells whether what happened to an alarm last is to be told: while it is held nobody is troubled, except that it was
// put aside, and a fan that stops and starts is no news of its own.
func Tells(a *alarm.Alarm) bool {
	switch a.Event {
	case "", alarm.Suppressed, alarm.Unsuppressed:
		return false
	case alarm.Shelved, alarm.Removed:
		return true
	case alarm.Unshelved, alarm.Restored:
		return a.Active() && !a.Held()
	}
	return !a.Held()
}

// OfAlarm composes the letter about what happened to an alarm last. It has the same identity whenever it is composed.
func OfAlarm(o Origin, a alarm.Alarm) outbox.Letter {
	l := outbox.Letter{
		ID:       fmt.Sprintf("%s.%d.%s", a.ID, a.Changes, strings.ReplaceAll(string(a.Event), " ", "-")),
		Kind:     outbox.Alarm,
		Event:    a.Event,
		Priority: a.Priority,
		Shop:     o.Shop,
		At:       o.At,
		Boot:     o.Boot,
		Alarm:    &a,
	}
	l.Subject = fmt.Sprintf("%s: %s: %s", o.Shop, heading(&a), brief(a.Text))
	l.Text = alarmText(o, &a)
	return l
}

// heading says in a few words what it is.
func heading(a *alarm.Alarm) string {
	switch a.Event {
	case alarm.Raised, alarm.Urged:
		return string(a.Priority)
	case alarm.Reminded:
		return "still so, " + string(a.Priority)
	case alarm.Unshelved, alarm.Restored:
		return string(a.Priority) + ", " + string(a.Event)
	}
	return string(a.Event)
}

// longestSubject is where a subject is cut, in characters, so that a list of mails shows it whole.
const longestSubject = 110

// brief is the first sentence of a text.
func brief(text string) string {
	text = strings.Join(strings.Fields(text), " ")
	if i := strings.Index(text, ". "); i > 0 {
		text = text[:i]
	}
	text = strings.TrimSuffix(text, ".")
	if r := []rune(text); len(r) > longestSubject {
		text = strings.TrimSpace(string(r[:longestSubject])) + "…"
	}
	return text
}

func alarmText(o Origin, a *alarm.Alarm) string {
	var b strings.Builder
	para := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n\n", args...) }
	para("%s", a.Text)
	para("%s. Raised %s; %s.", capital(string(a.Priority)), o.moment(a.Raised), a.State)
	switch a.Event {
	case alarm.Acknowledged:
		para("Seen by %s, %s.", a.AckedBy, o.moment(a.Acked))
	case alarm.Confirmed:
		para("%s found: %s\nDone: %s", a.Response.By, a.Response.Found, a.Response.Action)
	case alarm.Cleared:
		para("It is over since %s.", o.moment(a.Cleared))
	case alarm.Shelved:
		if s := a.Shelved; s != nil {
			para("Shelved by %s until %s: %s", s.By, o.moment(s.Until), s.Reason)
		}
	case alarm.Removed:
		if s := a.OutOfService; s != nil {
			para("Taken out of service by %s: %s", s.By, s.Reason)
		}
	}
	if a.Event.Asks() {
		b.WriteString(advice(o, a))
	}
	b.WriteString(caution.NoInstrument.Text + "\n")
	return b.String()
}

// advice is what helps whoever answers: since when, how sure, what is likely behind it, what to do, what can hurt.
func advice(o Origin, a *alarm.Alarm) string {
	var b strings.Builder
	known := diagnosis.Of(a.Kind())
	if !a.Since.IsZero() {
		fmt.Fprintf(&b, "It began about %s.\n", o.moment(a.Since))
	}
	if a.Confidence > 0 {
		fmt.Fprintf(&b, "How sure: the ranges that are told hold with a probability of %.0f %%.\n", 100*a.Confidence)
	}
	if b.Len() > 0 {
		b.WriteString("\n")
	}
	if len(a.Follows) > 0 {
		b.WriteString("What it brings with it:\n")
		for _, words := range a.Follows {
			fmt.Fprintf(&b, "- %s\n", words)
		}
		b.WriteString("\n")
	}
	if len(known.Causes) > 0 {
		b.WriteString("What is likely behind it, likeliest first where nothing else is known:\n")
		for i, c := range known.Causes {
			fmt.Fprintf(&b, "%d. %s. %s\n", i+1, capital(c.Text), c.Told)
		}
		b.WriteString("\n")
	}
	if a.Action != "" {
		fmt.Fprintf(&b, "What to do: %s\n\nBefore you start:\n", a.Action)
		for _, c := range known.Cautions {
			fmt.Fprintf(&b, "- %s\n", c.Text)
		}
		b.WriteString("\n")
	}
	if known.Waits != "" {
		fmt.Fprintf(&b, "If it waits: %s\n%s\n\n", known.Waits, known.Clears)
	}
	if len(o.To) > 0 {
		fmt.Fprintf(&b, "This is told to: %s. Who has it is on the page of alarms.\n\n", strings.Join(o.To, ", "))
	}
	return b.String()
}

// moment is a time in words, by the shop's zone.
func (o Origin) moment(t time.Time) string {
	if t.IsZero() {
		return "an unknown time"
	}
	zone := o.Zone
	if zone == nil {
		zone = time.UTC
	}
	return t.In(zone).Format("Monday 2 January 2006, 15:04")
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
