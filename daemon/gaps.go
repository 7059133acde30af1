package daemon

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/reading"
	"ductward/internal/shop"
)

// The shortest gap that is a line of the logbook, and how many intervals of a slow sensor must be missing. What is shorter
// is seen in the readings, and a fault of a sensor is an alarm long before.
const (
	gapLeast     = time.Hour
	gapIntervals = 20
	gapTogether  = time.Minute // gaps that begin and end within it are one
)

// gap is a time without readings of some channels, which is over.
type gap struct {
	from, to time.Time // civil
	channels []string
	off      bool // another boot lies between: the daemon did not run
}

// gapBook follows when each sensor was read last. By-hand positions and switches, which speak when they move, are not
// followed. It belongs to the fold.
type gapBook struct {
	least  map[string]time.Duration   // by channel that is followed
	last   map[string]reading.Reading // of this boot
	first  map[string]time.Duration   // monotonic, of this boot
	before map[string]time.Time       // of the boots before: the last reading of each channel, until it is judged
	ended  []gap                      // of this boot, not yet entered; of one channel each
}

func newGapBook(s *shop.Shop, latest map[string]reading.Reading) *gapBook {
	b := &gapBook{least: map[string]time.Duration{}, last: map[string]reading.Reading{}, first: map[string]time.Duration{}, before: map[string]time.Time{}}
	for _, c := range s.Collectors {
		for _, x := range c.Sensors {
			if x.From.Kind == shop.SourceByHand || x.From.Kind == shop.SourceFixed {
				continue
			}
			name := c.ChannelOf(x.Name)
			b.least[name] = max(gapLeast, gapIntervals*x.Interval)
			if r, ok := latest[name]; ok && !r.Time.IsZero() {
				b.before[name] = r.Time
			}
		}
	}
	return b
}

// reading takes one reading of this boot.
func (b *gapBook) reading(r *reading.Reading) {
	least, follows := b.least[r.Channel]
	if !follows || r.Quality == reading.Late {
		return
	}
	last, had := b.last[r.Channel]
	b.last[r.Channel] = *r
	switch long := r.Mono - last.Mono; {
	case !had:
		b.first[r.Channel] = r.Mono
	case long >= least && !r.Time.IsZero():
		b.ended = append(b.ended, gap{from: r.Time.Add(-long), to: r.Time, channels: []string{r.Channel}})
	}
}

// take returns the gaps that are over, those that belong together as one. Placed is the civil time of monotonic 0; while it
// is not known, nobody knows how long the daemon did not run.
func (b *gapBook) take(placed time.Time) []gap {
	out := b.ended
	b.ended = nil
	for channel, from := range b.before {
		mono, read := b.first[channel]
		if !read || placed.IsZero() {
			continue
		}
		delete(b.before, channel)
		if to := placed.Add(mono); to.Sub(from) >= b.least[channel] {
			out = append(out, gap{from: from, to: to, channels: []string{channel}, off: true})
		}
	}
	slices.SortFunc(out, func(x, y gap) int { return cmp.Or(x.from.Compare(y.from), cmp.Compare(x.channels[0], y.channels[0])) })
	var joined []gap
	for _, g := range out {
		if n := len(joined); n > 0 && joined[n-1].holds(&g) {
			joined[n-1].channels = append(joined[n-1].channels, g.channels...)
			continue
		}
		joined = append(joined, g)
	}
	return joined
}

// holds tells whether another gap is part of this one.
func (g *gap) holds(o *gap) bool {
	return g.off == o.off && o.from.Sub(g.from) <= gapTogether && o.to.Sub(g.to).Abs() <= gapTogether
}

// entry is the gap as a line of the logbook, at its end.
func (g *gap) entry() journal.Entry {
	e := journal.Entry{Time: g.to, Kind: journal.Gap, By: byItself}
	slices.Sort(g.channels)
	of := "any sensor"
	if len(g.channels) == 1 {
		e.Subject = g.channels[0]
		of = "it"
	} else if !g.off {
		of = strings.Join(g.channels, ", ")
	}
	why := "no reading came"
	if g.off {
		why = "the daemon did not run"
	}
	e.Note = fmt.Sprintf("No reading of %s from %s to %s (%s): %s.", of, g.from.UTC().Format(time.RFC3339), g.to.UTC().Format(time.RFC3339),
		g.to.Sub(g.from).Round(time.Minute), why)
	return e
}

// enterGaps enters the gaps that are over into the logbook.
func (f *fold) enterGaps() {
	for _, g := range f.gaps.take(f.placed) {
		f.enter(g.entry())
	}
}

// zeroFresh is how old a zero that moved may be to be entered: a start that makes the watch anew finds all of the past.
const zeroFresh = 24 * time.Hour

// enterZeros enters the zeros that moved and were taken, each once.
func (f *fold) enterZeros(changed []finding.Finding, now time.Time) {
	for i := range changed {
		x := &changed[i]
		if x.Kind != finding.SensorZero || x.Priority != finding.Journal || now.Sub(x.Raised) > zeroFresh {
			continue
		}
		e := journal.Entry{Time: x.Raised, Kind: journal.ZeroMoved, Subject: x.Subject, Note: x.Text, By: byItself}
		held, err := f.store.Journal()
		if err != nil && len(held) == 0 {
			return // what is there is not known
		}
		if !slices.ContainsFunc(held, func(h journal.Entry) bool {
			return h.Kind == e.Kind && h.Subject == e.Subject && h.Time.Equal(e.Time)
		}) {
			f.enter(e)
		}
	}
}

// enter writes what the daemon itself has noticed into the logbook.
func (f *fold) enter(e journal.Entry) {
	if _, err := f.addEntry(e); err != nil {
		f.log.Error("a line could not be entered into the logbook", "err", err, "kind", string(e.Kind), "note", e.Note)
	}
}
