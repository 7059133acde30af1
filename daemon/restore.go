package daemon

import (
	"cmp"
	"context"
	"errors"
	"iter"
	"slices"
	"time"

	"ductward/internal/journal"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/steady"
	"ductward/internal/store"
)

// memory is how far back the raw readings of a collector are folded again that has no run yet: enough for the longest
// stretch that may still become one, and little enough that a shop whose fan is never seen to run still starts at once.
const memory = 48 * time.Hour

// place in the stored order up to which a collector has been folded into runs.
type cut struct {
	boot uint32
	mono time.Duration
	at   time.Time
}

func (c cut) compare(boot uint32, mono time.Duration) int {
	return cmp.Or(cmp.Compare(c.boot, boot), cmp.Compare(c.mono, mono))
}

// rememberer is what a watch is told of the past.
type rememberer interface {
	Run(steady.Run)
	Entry(journal.Entry)
	Reading(reading.Reading) []steady.Run
}

// rebuilder makes a watch from what is stored: runs and journal in the order in which they happened, then the raw
// readings behind the last run of each collector.
type rebuilder struct {
	shop    *shop.Shop
	store   keeper
	watch   rememberer
	entries []journal.Entry // not yet given, by time
	cuts    map[string]cut  // by collector
	owner   map[string]string
	held    map[string]map[string]reading.Reading // by collector: where its switches stood at its cut
	damage  []error
	runsOut []steady.Run // that the tail has brought to an end
	lastRun time.Time    // civil end of the last run
	until   store.Cursor // the last reading to tell
}

func newRebuilder(s *shop.Shop, k keeper, w rememberer, until store.Cursor) *rebuilder {
	b := &rebuilder{shop: s, store: k, watch: w, until: until, cuts: map[string]cut{}, owner: map[string]string{},
		held: map[string]map[string]reading.Reading{}}
	for _, c := range s.Collectors {
		b.held[c.Name] = map[string]reading.Reading{}
		for _, x := range c.Sensors {
			b.owner[c.Name+"/"+x.Name] = c.Name
		}
		b.owner[c.Name+"/fan"] = c.Name
		for _, g := range c.Gates {
			b.owner["gate/"+g.Name] = c.Name
		}
		for _, x := range c.Selectors {
			b.owner["selector/"+x.Name] = c.Name
		}
		for _, x := range c.Contacts {
			b.owner[shop.ContactChannel(x.Name)] = c.Name
		}
	}
	return b
}

// byTime puts the entries that are in force in the order in which they are told.
func byTime(entries []journal.Entry) []journal.Entry {
	out := slices.DeleteFunc(slices.Clone(journal.InForce(entries)), func(e journal.Entry) bool { return e.Kind.Own() })
	slices.SortStableFunc(out, func(x, y journal.Entry) int { return x.Time.Compare(y.Time) })
	return out
}

func (b *rebuilder) all(ctx context.Context) error {
	if err := b.runs(ctx); err != nil {
		return err
	}
	if err := b.tail(ctx); err != nil {
		return err
	}
	for _, e := range b.entries {
		b.watch.Entry(e)
	}
	b.entries = nil
	return nil
}

// readable keeps damage for the log and passes on every other error: a part that is lost must not cost the rest.
func (b *rebuilder) readable(err error) error {
	var damage *store.DamageError
	if errors.As(err, &damage) {
		b.damage = append(b.damage, err)
		return nil
	}
	return err
}

// entriesUntil gives the entries of before at.
func (b *rebuilder) entriesUntil(at time.Time) {
	for len(b.entries) > 0 && !at.IsZero() && b.entries[0].Time.Before(at) {
		b.watch.Entry(b.entries[0])
		b.entries = b.entries[1:]
	}
}

// runs gives the stored runs of all collectors in the order in which they ended.
func (b *rebuilder) runs(ctx context.Context) error {
	type source struct {
		run  steady.Run
		next func() (steady.Run, error, bool)
	}
	var sources []*source
	advance := func(s *source) (bool, error) {
		for {
			run, err, ok := s.next()
			if !ok {
				return false, nil
			}
			if err == nil {
				s.run = run
				return true, nil
			}
			if err := b.readable(err); err != nil {
				return false, err
			}
		}
	}
	for _, c := range b.shop.Collectors {
		runs := b.store.Runs(c.Name)
		if k, told := b.cuts[c.Name]; told { // by a checkpoint
			runs = b.store.RunsFrom(c.Name, k.boot, k.mono+1)
		}
		next, stop := iter.Pull2(runs)
		defer stop()
		s := &source{next: next}
		ok, err := advance(s)
		if err != nil {
			return err
		}
		if ok {
			sources = append(sources, s)
		}
	}
	for len(sources) > 0 {
		if err := ctx.Err(); err != nil {
			return err
		}
		first := 0
		for i, s := range sources {
			if (cut{boot: s.run.Boot, mono: s.run.End}).compare(sources[first].run.Boot, sources[first].run.End) < 0 {
				first = i
			}
		}
		s := sources[first]
		b.run(s.run)
		ok, err := advance(s)
		if err != nil {
			return err
		}
		if !ok {
			sources = slices.Delete(sources, first, first+1)
		}
	}
	return nil
}

func (b *rebuilder) run(r steady.Run) {
	b.entriesUntil(r.At)
	b.watch.Run(r)
	if r.Kind == steady.Contact { // in the midst of a stretch, which is folded again from its beginning
		b.lastRun = later(b.lastRun, r.At)
		return
	}
	b.cuts[r.Collector] = cut{boot: r.Boot, mono: r.End, at: r.At}
	b.lastRun = later(b.lastRun, r.At)
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// tail folds the raw readings behind each collector's last run. The runs that they bring to an end are stored.
func (b *rebuilder) tail(ctx context.Context) error {
	for r, err := range b.store.Readings(ctx, store.ReadQuery{After: b.tailFrom()}) {
		if err != nil {
			if err := b.readable(err); err != nil {
				return err
			}
			continue
		}
		if b.isBehind(r) {
			return nil
		}
		owner, ok := b.owner[r.Channel]
		if !ok { // of a part that is not in the shop file any more
			continue
		}
		if c, cutOff := b.cuts[owner]; cutOff && c.compare(r.Boot, r.Mono) >= 0 {
			if reading.IsSwitch(r.Channel) {
				b.held[owner][r.Channel] = r
			}
			continue
		}
		b.resume(owner)
		b.entriesUntil(r.Time)
		b.reading(r)
	}
	return nil
}

// isBehind tells whether a reading was taken after the making of the watch began: it is told when that is done.
func (b *rebuilder) isBehind(r reading.Reading) bool {
	u := b.until
	return cmp.Or(cmp.Compare(u.Boot, r.Boot), cmp.Compare(u.Mono, r.Mono), cmp.Compare(u.Seq, r.Seq)) < 0
}

// tailFrom returns where to begin to read: one beat of the switches before the first cut.
func (b *rebuilder) tailFrom() store.Cursor {
	var from *cut
	for _, c := range b.shop.Collectors {
		k, ok := b.cuts[c.Name]
		if !ok {
			k = b.newest()
			k.mono -= memory
		}
		if from == nil || k.compare(from.boot, from.mono) < 0 {
			from = &k
		}
	}
	if from == nil {
		return store.Cursor{}
	}
	return store.Cursor{Boot: from.boot, Mono: max(from.mono-beat-beat/4, 0)}
}

// newest returns the place of the newest reading.
func (b *rebuilder) newest() cut {
	var last cut
	for _, r := range b.store.Latest() {
		if last.compare(r.Boot, r.Mono) < 0 {
			last = cut{boot: r.Boot, mono: r.Mono}
		}
	}
	return last
}

// resume tells the watch, once, where the switches of a collector stood at its cut. They are told as of the cut, since
// what the fan did before it is in the runs.
func (b *rebuilder) resume(owner string) {
	held := b.held[owner]
	if len(held) == 0 {
		return
	}
	c := b.cuts[owner]
	for _, r := range sortedReadings(held) {
		if r.Boot != c.boot {
			continue // a switch of an earlier boot stands nobody knows where
		}
		r.Mono, r.Time = c.mono, c.at
		b.reading(r)
	}
	clear(held)
}

func (b *rebuilder) reading(r reading.Reading) {
	runs := b.watch.Reading(r)
	for _, run := range runs {
		b.lastRun = later(b.lastRun, run.At)
	}
	b.runsOut = append(b.runsOut, runs...)
}

func sortedReadings(m map[string]reading.Reading) []reading.Reading {
	out := make([]reading.Reading, 0, len(m))
	for _, r := range m {
		out = append(out, r)
	}
	slices.SortFunc(out, func(a, b reading.Reading) int { return cmp.Compare(a.Channel, b.Channel) })
	return out
}

func sortedFaults(m map[string]fault) []fault {
	out := make([]fault, 0, len(m))
	for _, f := range m {
		out = append(out, f)
	}
	slices.SortFunc(out, func(a, b fault) int { return cmp.Compare(a.channel, b.channel) })
	return out
}
