package daemon

import (
	"encoding/json"
	"fmt"
	"hash/fnv"
	"math"
	"runtime/debug"
	"slices"
	"time"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/letter"
	"ductward/internal/watch"
)

// stored is what is known to be in the store, so that only what changed is written.
type stored struct {
	findings map[string]uint64 // by ID
	baseline map[string]uint64 // by collector
}

// look makes a new snapshot and tells what follows from it: findings to the store, alarms to everybody.
func (f *fold) look(mono time.Duration) {
	now := f.civil(mono)
	if f.news && f.watch != nil {
		f.news = false
		f.snapshot.Store(f.watch.Snapshot())
	}
	snap := f.snapshot.Load()
	if snap == nil {
		return
	}
	if f.found {
		f.found = false
		f.keepFindings(mono, snap)
	}
	findings := append(activeAndEnded(snap), f.ownFindings(mono)...)
	f.change(mono, func() []alarm.Alarm { return f.alarms.UpdateBy(now, findings, f.design(mono)) })
	if !f.shown {
		f.shown = true
		debug.FreeOSMemory() // a start leaves much behind that nobody needs again, and the collector would give back slowly
	}
	if f.known != nil {
		f.known()
		f.known = nil
	}
}

// design tells which alarms are suppressed by design: while a fan stands there is no air to be short of.
func (f *fold) design(mono time.Duration) alarm.Design {
	return func(collector string, kind finding.Kind) string {
		if kind != finding.AirShort && kind != finding.DustMaySettle {
			return ""
		}
		for i, c := range f.shop.Collectors {
			if c.Name == collector && f.fans[i].resting(mono) {
				return "the fan is off"
			}
		}
		return ""
	}
}

// change changes alarms, and then tells those that changed to everybody, in the order in which they did. It is safe for
// concurrent use, and returns whether the store has them.
func (f *fold) change(mono time.Duration, how func() []alarm.Alarm) (kept bool) {
	f.telling.Lock()
	defer f.telling.Unlock()
	f.keepAlarms(mono, how())
	return len(f.notKept) == 0
}

func activeAndEnded(snap *watch.Snapshot) []finding.Finding {
	var all []finding.Finding
	for i := range snap.Collectors {
		all = append(all, snap.Collectors[i].Findings...)
	}
	return all
}

// keepFindings stores the findings and baselines that have changed since they were stored.
func (f *fold) keepFindings(mono time.Duration, snap *watch.Snapshot) {
	for i := range snap.Collectors {
		c := &snap.Collectors[i]
		var changed []finding.Finding
		for _, x := range c.Findings {
			if fingerprint(x) != f.stored.findings[x.ID] {
				changed = append(changed, storable(x))
			}
		}
		if len(changed) > 0 {
			if f.keeping.see(mono, f.store.PutFindings(c.Name, changed)) != nil {
				f.found = true // again with the next look
				continue
			}
			for _, x := range c.Findings {
				f.stored.findings[x.ID] = fingerprint(x)
			}
			f.enterZeros(changed, f.civil(mono))
		}
		f.keepBaseline(mono, c)
	}
}

// storable returns a finding with every size that is not finite as not known: one bound that runs away must not keep
// the finding, or all that come with it, out of the store.
func storable(x finding.Finding) finding.Finding {
	for _, v := range []*float64{&x.Size, &x.SizeLow, &x.SizeHigh, &x.Confidence} {
		if math.IsInf(*v, 0) {
			*v = math.NaN()
		}
	}
	return x
}

// fingerprint tells two versions of one thing apart. It is printed first, since a NaN equals nothing.
func fingerprint(v any) uint64 {
	h := fnv.New64a()
	fmt.Fprintf(h, "%+v", v)
	return h.Sum64()
}

// keepAlarms puts the alarms that changed into the outbox, stores them, and stores those that the store did not take
// before. What cannot be stored is told all the same. The caller holds telling.
func (f *fold) keepAlarms(mono time.Duration, changed []alarm.Alarm) {
	for _, a := range changed {
		f.log.Info("alarm", "id", a.ID, "cause", a.Cause, "priority", string(a.Priority), "state", string(a.State))
	}
	if f.tells != nil {
		f.tells.alarms(changed)
	}
	if f.out != nil {
		f.out.alarms(changed)
	}
	f.notEntered = append(f.notEntered, f.entriesOf(changed)...)
	if keep := newestOf(f.notKept, changed); len(keep) > 0 {
		f.notKept = nil
		if f.keeping.see(mono, f.store.PutAlarmEvents(keep, f.notEntered)) != nil {
			f.notKept = keep
		} else {
			f.notEntered = nil
		}
	}
}

// entriesOf are the logbook's entries about what happened to alarms. What only got new words has none, nor has a fan that
// stops and starts.
func (f *fold) entriesOf(changed []alarm.Alarm) (out []journal.Entry) {
	for i := range changed {
		a := &changed[i]
		if f.changes[a.ID] == a.Changes || !letter.Tells(a) && a.Event != alarm.Raised && a.Event != alarm.Cleared {
			continue
		}
		f.changes[a.ID] = a.Changes
		out = append(out, letter.Entry(*a, f.civil(f.clk.Mono())))
	}
	return out
}

// newestOf returns both lists as one with the newest version of each alarm, so that one that comes and goes while the
// card is full takes the room of one.
func newestOf(old, changed []alarm.Alarm) []alarm.Alarm {
	var out []alarm.Alarm
	for _, a := range slices.Concat(old, changed) {
		out = append(slices.DeleteFunc(out, func(b alarm.Alarm) bool { return b.ID == a.ID }), a)
	}
	return out
}

// baselineRecord is what is stored of a baseline under its version. A misfit that is not known is null.
type baselineRecord struct {
	From      time.Time `json:"from"`
	To        time.Time `json:"to"`
	Version   int       `json:"version"`
	GateSets  int       `json:"gate_sets"`
	MisfitRMS *float64  `json:"misfit_rms"`
	Complete  bool      `json:"complete"`
}

// keepBaseline stores a baseline once it is complete, and again when it changes.
func (f *fold) keepBaseline(mono time.Duration, c *watch.Collector) {
	b := c.Baseline
	print := fingerprint(b)
	if !b.Complete || f.stored.baseline[c.Name] == print {
		return
	}
	record := baselineRecord{From: b.From, To: b.To, Version: b.Version, GateSets: b.GateSets, Complete: b.Complete}
	if !math.IsNaN(b.MisfitRMS) && !math.IsInf(b.MisfitRMS, 0) {
		record.MisfitRMS = &b.MisfitRMS
	}
	blob, err := json.Marshal(record)
	if err == nil {
		err = f.store.PutBaseline(c.Name, b.Version, blob)
	}
	if f.keeping.see(mono, err) == nil {
		f.stored.baseline[c.Name] = print
	}
}
