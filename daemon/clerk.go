package daemon

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"ductward/internal/checks"
	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/letter"
	"ductward/internal/outbox"
)

// clerk writes the letters of the calendar, the daily sign of life and the weekly digest, and lets go of old ones.
type clerk struct {
	*teller
	fold  *fold
	since time.Time // of this start
}

// run looks now and then whether something is due, until the context is done.
func (c *clerk) run(ctx context.Context) error {
	for c.clk.Wait(ctx, c.pace.calendar) == nil {
		if !c.clk.Trusted() {
			continue // nobody knows what day it is
		}
		c.daily()
		c.weekly()
		_ = c.storing.see(c.clk.Mono(), c.box.Tidy(c.clk.Now())) // logged there
	}
	return nil
}

// dueDaily returns the last moment at which a daily letter was due, and the next one.
func (c *clerk) dueDaily(now time.Time) (last, next time.Time) {
	at := c.shop.Outbound.Daily
	last, next = at.Of(now), at.Of(now.AddDate(0, 0, 1))
	if last.After(now) {
		last, next = at.Of(now.AddDate(0, 0, -1)), last
	}
	return last, next
}

func (c *clerk) daily() {
	now := c.clk.Now().In(c.shop.Site.Location)
	due, next := c.dueDaily(now)
	c.each(outbox.Heartbeat, due, func() outbox.Letter {
		alive := letter.Alive{Since: c.since, Next: next, Standing: len(c.fold.alarms.Standing())}
		if snap := c.fold.snapshot.Load(); snap != nil {
			for i := range snap.Collectors {
				for _, s := range snap.Collectors[i].Sensors {
					alive.Sensors++
					if s.Fault != "" {
						alive.Faulty++
					}
				}
			}
		}
		return letter.OfHeartbeat(c.origin(), due, alive)
	})
}

// each puts a letter of the calendar for the targets that have not had it.
func (c *clerk) each(k outbox.Kind, due time.Time, write func() outbox.Letter) {
	var l *outbox.Letter
	for _, t := range c.shop.Outbound.Targets() {
		if !c.box.Had(t, k).Before(due) {
			continue
		}
		if l == nil {
			written := write()
			l = &written
		}
		_ = c.storing.see(c.clk.Mono(), c.box.Put([]outbox.Letter{*l}, t)) // logged there
	}
}

func (c *clerk) weekly() {
	now := c.clk.Now().In(c.shop.Site.Location)
	w := c.shop.Outbound.Weekly
	back := (int(now.Weekday()) - int(w.Day) + 7) % 7
	due := w.At.Of(now.AddDate(0, 0, -back))
	if due.After(now) {
		due = w.At.Of(now.AddDate(0, 0, -back-7))
	}
	if c.fold.snapshot.Load() == nil || !due.After(c.began()) {
		return // there is no week to tell of yet
	}
	c.each(outbox.Digest, due, func() outbox.Letter { return letter.OfWeek(c.origin(), due, c.week(due)) })
}

// began is when the watch over this shop began.
func (c *clerk) began() time.Time {
	shops, err := c.fold.store.Shops()
	if err != nil || len(shops) == 0 {
		return c.since
	}
	return shops[0].From
}

// week gathers the seven days before a moment.
func (c *clerk) week(to time.Time) letter.Week {
	from := to.AddDate(0, 0, -7)
	w := letter.Week{From: from, To: to}
	within := func(t time.Time) bool { return !t.Before(from) && t.Before(to) }
	for _, a := range c.fold.alarms.Standing() {
		w.Standing = append(w.Standing, fmt.Sprintf("%s, %s: %s", a.Priority, a.State, a.Text))
	}
	if snap := c.fold.snapshot.Load(); snap != nil {
		for i := range snap.Collectors {
			col := &snap.Collectors[i]
			for j := range col.Findings {
				if f := &col.Findings[j]; within(f.Raised) {
					w.Changed = append(w.Changed, c.day(f.Raised)+": "+f.Text)
				} else if within(f.Ended) && f.Priority != finding.Journal {
					w.Changed = append(w.Changed, c.day(f.Ended)+": no longer so: "+f.Text)
				}
			}
			w.Filter = append(w.Filter, filterWords(col.Name, col.Days)...)
			w.Leakage = append(w.Leakage, leakageWords(col.Name, col.Now.Leakage, snap.ReferenceSuction)...)
		}
	}
	entries, err := c.fold.store.Journal()
	if err != nil {
		w.Done = append(w.Done, "The logbook could not be read whole.")
	}
	if len(entries) > 0 {
		w.Head, w.Entries = journal.Head(entries).String(), uint64(len(entries))
	}
	for _, e := range entries {
		if within(e.Time) && (!e.Kind.Own() || e.By != byItself) {
			w.Done = append(w.Done, strings.TrimRight(fmt.Sprintf("%s: %s %s (%s) %s", c.day(e.Time), e.Kind, e.Subject, e.By, e.Note), " "))
		}
	}
	for _, d := range checks.List(c.shop.Checks, journal.InForce(entries), c.began(), to) {
		if d.Over {
			w.Checks = append(w.Checks, fmt.Sprintf("%s, since %s", d.Check.Name, c.day(d.At)))
		}
	}
	for _, s := range c.box.Status() {
		for i := range s.Dead {
			if it := &s.Dead[i]; within(it.Ended) && it.Letter.Kind != outbox.Heartbeat {
				w.Failed = append(w.Failed, fmt.Sprintf("to %s: %s (%s)", s.Target, it.Letter.Subject, it.Last))
			}
		}
	}
	return w
}

func (c *clerk) day(t time.Time) string { return t.In(c.shop.Site.Location).Format("Mon 2 Jan") }

// filterWords say when the filter must be cleaned by the newest forecast.
func filterWords(collector string, days []estimate.Day) []string {
	for i := len(days) - 1; i >= 0; i-- {
		if d := days[i].Due; d != nil {
			return []string{fmt.Sprintf("%s: to be cleaned between %s and %s (%.0f times in 100), because of %s", collector,
				d.Low.Format("2 January"), d.High.Format("2 January 2006"), 100*d.Confidence, reasonWords(d.Reason))}
		}
	}
	return nil
}

func reasonWords(reason string) string {
	if machine, ok := strings.CutPrefix(reason, "air-short:"); ok {
		return "the air that " + machine + " needs"
	}
	return "its own pressure limit"
}

// leakageWords say what has come to leak since the baseline, as long as that is known.
func leakageWords(collector string, v estimate.Value, reference float64) []string {
	if math.IsNaN(v.V) || math.IsNaN(v.SE) {
		return nil
	}
	const hour = 3600
	return []string{fmt.Sprintf("%s: %.0f ± %.0f m³/h at %.0f Pa, new since the baseline", collector, hour*v.V, hour*v.SE, reference)}
}
