package dashboard

import (
	"fmt"
	"math"
	"strings"
	"time"

	"ductward/internal/alarm"
	"ductward/internal/journal"
	"ductward/internal/watch"
)

// packReading sums up one channel over the period.
type packReading struct {
	Channel, Unit, Least, Mean, Most string
	Days                             int    // with readings
	Gaps                             string // days without any
}

// packAlarm is one alarm of the period with what came of it.
type packAlarm struct {
	Title, Priority, Raised, State, Text string
	Events                               []string
}

type packSensor struct{ Name, Health, Zero, ZeroAt, Noise string }

// packReadings sums up every channel by the day.
func (s *server) packReadings(from, to time.Time) ([]packReading, error) {
	days := int(math.Ceil(to.Sub(from).Hours() / 24))
	if days < 1 {
		return nil, nil
	}
	var out []packReading
	for _, ch := range s.channels() {
		buckets, err := s.Readings.Chart(ch.Name, from, from.AddDate(0, 0, days), days)
		if err != nil {
			return nil, fmt.Errorf("pack: %w", err)
		}
		r := packReading{Channel: ch.Name, Unit: ch.unit, Least: unknown, Mean: unknown, Most: unknown}
		least, most, sum, n := math.Inf(1), math.Inf(-1), 0.0, 0
		var gaps []string
		for _, b := range buckets {
			if b.N == 0 {
				gaps = append(gaps, s.local(b.Start).Format("2 Jan"))
				continue
			}
			r.Days++
			least, most = min(least, b.Min), max(most, b.Max)
			sum, n = sum+b.Mean*float64(b.N), n+b.N
		}
		if n > 0 {
			show := func(v float64) string { return plain(v*ch.factor + ch.offset) }
			r.Least, r.Mean, r.Most = show(least), show(sum/float64(n)), show(most)
		}
		r.Gaps = gapWords(gaps)
		out = append(out, r)
	}
	return out, nil
}

// gapWords names days without readings, and counts them where they are many.
func gapWords(days []string) string {
	const most = 8
	switch {
	case len(days) == 0:
		return "none"
	case len(days) > most:
		return fmt.Sprintf("%d days, from %s to %s", len(days), days[0], days[len(days)-1])
	}
	return strings.Join(days, ", ")
}

// packAlarms are the alarms to which something happened in the period, or that stand, with all that happened.
func (s *server) packAlarms(entries []journal.Entry, from, to, now time.Time) (out []packAlarm) {
	events := map[string][]string{}
	for i := range entries {
		e := &entries[i]
		if e.Kind != journal.Alarm || e.Time.Before(from) || !e.Time.Before(to) {
			continue
		}
		line := s.moment(e.Time, now) + ": " + e.Event + ", " + e.By
		if e.Event == string(alarm.Confirmed) {
			line += ": found " + e.Note + "; done " + e.Action
		} else if e.Event == string(alarm.Shelved) || e.Event == string(alarm.Removed) {
			line += ": " + e.Note
		}
		events[e.Alarm] = append(events[e.Alarm], line)
	}
	for _, a := range s.Alarms.List() {
		within := !a.Raised.Before(from) && a.Raised.Before(to)
		if !within && !a.Standing() && events[a.ID] == nil {
			continue
		}
		out = append(out, packAlarm{Title: causeTitle(a.Cause), Priority: string(a.Priority), Raised: s.moment(a.Raised, now),
			State: string(a.State), Text: s.proper(a.Text), Events: events[a.ID]})
	}
	return out
}

func (s *server) packSensors(c *watch.Collector, now time.Time) (out []packSensor) {
	for _, x := range c.Sensors {
		ch, ok := s.channel(x.Channel)
		if _, sensor := s.Shop.SensorOf(x.Channel); sensor == nil || !ok {
			continue
		}
		p := packSensor{Name: x.Channel, Health: "sound", Zero: "never taken", Noise: unknown}
		if x.Fault != "" {
			p.Health = x.Fault + ", since " + s.moment(x.Since, now)
		}
		if known(x.Zero) {
			p.Zero, p.ZeroAt = join(plain(x.Zero*ch.factor), ch.unit), s.moment(x.ZeroAt, now)
		}
		if known(x.Noise) {
			p.Noise = join(plain(x.Noise*ch.factor), ch.unit)
		}
		out = append(out, p)
	}
	return out
}
