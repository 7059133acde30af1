package letter

import (
	"time"

	"ductward/internal/alarm"
	"ductward/internal/journal"
)

// byItself is who signs what the tool enters into the logbook.
const byItself = "ductward"

// Entry is the logbook's entry about what happened to an alarm last, at a civil time.
func Entry(a alarm.Alarm, at time.Time) journal.Entry {
	e := journal.Entry{Time: at, Kind: journal.Alarm, By: byItself, Alarm: a.ID, Event: string(a.Event), Note: string(a.Priority) + ": " + a.Text}
	if a.EventBy != "" {
		e.By = a.EventBy
	}
	switch a.Event {
	case alarm.Acknowledged:
		e.Time = a.Acked
	case alarm.Confirmed:
		e.Time, e.Note, e.Action = a.Response.At, a.Response.Found, a.Response.Action
	case alarm.Shelved:
		if s := a.Shelved; s != nil {
			e.Time, e.Note = s.From, "until "+s.Until.UTC().Format(time.RFC3339)+": "+s.Reason
		}
	case alarm.Removed:
		if s := a.OutOfService; s != nil {
			e.Time, e.Note = s.From, s.Reason
		}
	}
	return e
}
