package daemon

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"iter"
	"slices"
	"strings"
	"time"

	"ductward/internal/journal"
	"ductward/internal/reading"
	"ductward/internal/steady"
	"ductward/internal/store"
	"ductward/internal/watch"
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
	f       *fold
	watch   rememberer
	entries []journal.Entry // not yet given
	cuts    map[string]cut  // by collector
	owner   map[string]string
	held    map[string]map[string]reading.Reading // by collector: where its switches stood at its cut
	damage  []error
}

// rebuild makes the fold's watch anew from the store.
func (f *fold) rebuild(ctx context.Context) error {
	w, err := watch.New(f.shop)
	if err != nil {
		return err
	}
	b := newRebuilder(f, w)
	if err := b.all(ctx); err != nil {
		return fmt.Errorf("rebuild the watch: %w", err)
	}
	if len(b.damage) > 0 {
		f.log.Error("parts of the store could not be read and were left out", "parts", len(b.damage), "first", b.damage[0])
	}
	f.watch = w
	for _, x := range sortedFaults(f.standing) {
		w.Fault(x.channel, x.code, x.text, x.at)
	}
	f.news, f.found = true, true
	return nil
}

func newRebuilder(f *fold, w rememberer) *rebuilder {
	b := &rebuilder{f: f, watch: w, cuts: map[string]cut{}, owner: map[string]string{},
		held: map[string]map[string]reading.Reading{}}
	for _, c := range f.shop.Collectors {
		b.held[c.Name] = map[string]reading.Reading{}
		for _, s := range c.Sensors {
			b.owner[c.Name+"/"+s.Name] = c.Name
		}
		b.owner[c.Name+"/fan"] = c.Name
		for _, g := range c.Gates {
			b.owner["gate/"+g.Name] = c.Name
		}
		for _, s := range c.Selectors {
			b.owner["selector/"+s.Name] = c.Name
		}
	}
	return b
}

func (b *rebuilder) all(ctx context.Context) error {
	entries, err := b.f.store.Journal()
	if err := b.readable(err); err != nil {
		return err
	}
	slices.SortStableFunc(entries, func(x, y journal.Entry) int { return x.Time.Compare(y.Time) })
	b.entries = entries
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
	for _, c := range b.f.shop.Collectors {
		next, stop := iter.Pull2(b.f.store.Runs(c.Name))
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
	b.cuts[r.Collector] = cut{boot: r.Boot, mono: r.End, at: r.At}
	if r.At.After(b.f.lastRun) {
		b.f.lastRun = r.At
	}
}

// tail folds the raw readings behind each collector's last run. The runs that they bring to an end are stored.
func (b *rebuilder) tail(ctx context.Context) error {
	for r, err := range b.f.store.Readings(ctx, store.ReadQuery{After: b.tailFrom()}) {
		if err != nil {
			if err := b.readable(err); err != nil {
				return err
			}
			continue
		}
		owner, ok := b.owner[r.Channel]
		if !ok { // of a part that is not in the shop file any more
			continue
		}
		if c, cutOff := b.cuts[owner]; cutOff && c.compare(r.Boot, r.Mono) >= 0 {
			if isSwitch(r.Channel) {
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

// tailFrom returns where to begin to read: one beat of the switches before the first cut.
func (b *rebuilder) tailFrom() store.Cursor {
	var from *cut
	for _, c := range b.f.shop.Collectors {
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
	for _, r := range b.f.store.Latest() {
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
	if len(runs) == 0 {
		return
	}
	for _, run := range runs {
		if run.At.After(b.f.lastRun) {
			b.f.lastRun = run.At
		}
	}
	_ = b.f.appending.see(b.f.clk.Mono(), b.f.store.AppendRuns(runs)) // logged there, as in the fold
}

func isSwitch(channel string) bool {
	return strings.HasPrefix(channel, "gate/") || strings.HasPrefix(channel, "selector/") || strings.HasSuffix(channel, "/fan")
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
