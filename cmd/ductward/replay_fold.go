package main

import (
	"context"
	"time"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/watch"
)

// outcome is what a replay came to.
type outcome struct {
	snapshot *watch.Snapshot
	location *time.Location          // of the shop, for labels
	alarms   map[string][]alarmSpell // by collector, in the order in which they were raised
	told     tally
}

// tally counts what went in.
type tally struct{ readings, runs, entries int }

// alarmSpell is one time that an alarm was active.
type alarmSpell struct {
	finding         string
	priority        finding.Priority
	raised, cleared time.Time // cleared is zero while it still is
}

// alarmed tells whether any alarm was raised.
func (o *outcome) alarmed() bool {
	for _, a := range o.alarms {
		if len(a) > 0 {
			return true
		}
	}
	return false
}

// lookEvery is the time between looks at the alarms while nothing new is found: an alarm is raised and cleared by the
// passing of time as well.
const lookEvery = time.Minute

// replayer drives the watch over a file as the daemon drives it over its sensors.
type replayer struct {
	watch    *watch.Watch
	alarms   *alarm.Manager
	entries  []journal.Entry // not yet given, by time
	findings []finding.Finding
	owner    map[string]string // finding → collector
	active   map[string]int    // alarm → place of its spell among its collector's
	looked   time.Time
	out      *outcome
}

// fold gives readings, in stored order, and entries, by time, to a watch, and gathers what follows.
func fold(ctx context.Context, s *shop.Shop, readings []reading.Reading, entries []journal.Entry, progress func(int)) (*outcome, error) {
	w, err := watch.New(s)
	if err != nil {
		return nil, err
	}
	p := &replayer{watch: w, alarms: alarm.NewManager(nil, alarm.DefaultOptions()), entries: entries,
		owner: make(map[string]string), active: make(map[string]int),
		out: &outcome{location: s.Site.Location, alarms: make(map[string][]alarmSpell)}}
	p.out.told = tally{readings: len(readings), entries: len(entries)}
	const beat = 4096 // readings between looks at the context and the bar
	for i := range readings {
		if i%beat == 0 {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			progress(i)
		}
		p.reading(readings[i])
	}
	p.end(readings)
	progress(len(readings))
	return p.out, nil
}

// reading gives one reading, after the entries that came before it.
func (p *replayer) reading(r reading.Reading) {
	p.entriesUntil(r.Time)
	runs := p.watch.Reading(r)
	p.out.told.runs += len(runs)
	if len(runs) > 0 || r.Time.Sub(p.looked) >= lookEvery {
		p.look(r.Time, len(runs) > 0)
	}
}

func (p *replayer) entriesUntil(at time.Time) {
	for len(p.entries) > 0 && !p.entries[0].Time.After(at) {
		p.watch.Entry(p.entries[0])
		p.entries = p.entries[1:]
	}
}

// end gives what is left, ends the open runs and takes the last snapshot.
func (p *replayer) end(readings []reading.Reading) {
	var last time.Time
	for i := range readings {
		if readings[i].Time.After(last) {
			last = readings[i].Time
		}
	}
	for _, e := range p.entries {
		p.watch.Entry(e)
	}
	p.entries = nil
	p.out.told.runs += len(p.watch.Flush())
	p.look(last, true)
	p.out.snapshot = p.watch.Snapshot()
}

// look moves the alarms to now. The findings are taken anew only where something may have changed them.
func (p *replayer) look(now time.Time, anew bool) {
	if now.IsZero() {
		return // a board that did not know the time yet
	}
	p.looked = now
	if anew {
		p.findings = p.findings[:0]
		for _, c := range p.watch.Snapshot().Collectors {
			p.findings = append(p.findings, c.Findings...)
			for i := range c.Findings {
				p.owner[c.Findings[i].ID] = c.Name
			}
		}
	}
	for _, a := range p.alarms.Update(now, p.findings) {
		p.note(&a)
	}
}

// note opens a spell for an alarm that became active, and closes that of one that is not any more.
func (p *replayer) note(a *alarm.Alarm) {
	collector := p.owner[a.Finding]
	spells := p.out.alarms[collector]
	at, open := p.active[a.ID]
	switch {
	case a.Active() && !open:
		p.active[a.ID] = len(spells)
		p.out.alarms[collector] = append(spells, alarmSpell{finding: a.Finding, priority: a.Priority, raised: a.Raised})
	case a.Active():
		spells[at].finding, spells[at].priority = a.Finding, a.Priority
	case open:
		spells[at].cleared = a.Cleared
		delete(p.active, a.ID)
	}
}
