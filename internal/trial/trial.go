package trial

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"time"

	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/plant"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/watch"
)

// Leak is a leak that is put into a plant.
type Leak struct {
	Part string
	Day  int     // on whose morning it opens
	Flow float64 // m³/s at 1500 Pa
}

// Outcome is what the watch made of one plant.
type Outcome struct {
	Seed     uint64
	Leak     *Leak            // nil: a healthy plant
	Found    *finding.Finding // the first finding of a leak raised after it opened; nil: none
	Bound    float64          // m³/s, the standard error that the information bound allows; 0: not asked for
	False    []finding.Finding
	Findings []finding.Finding
	Days     int // days that were watched against a baseline
	All      []estimate.Day
}

// Inside tells whether the finding's interval holds the leak.
func (o *Outcome) Inside() bool {
	return o.Found != nil && o.Found.SizeLow <= o.Leak.Flow && o.Leak.Flow <= o.Found.SizeHigh
}

// String sums the outcome up in one line.
func (o *Outcome) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "seed %d", o.Seed)
	if o.Leak != nil {
		fmt.Fprintf(&b, ": %.1f m3/h in %s", 3600*o.Leak.Flow, o.Leak.Part)
	}
	if f := o.Found; f != nil {
		fmt.Fprintf(&b, ", found %s, %.1f (%.1f to %.1f) m3/h since %s, told %s, in %v; bound %.1f", f.Kind, 3600*f.Size,
			3600*f.SizeLow, 3600*f.SizeHigh, f.Onset.Format("2 Jan"), f.Raised.Format("2 Jan"), f.Where[0].Part, 3600*o.Bound)
	} else if o.Leak != nil {
		b.WriteString(", not found")
	}
	for _, f := range o.False {
		fmt.Fprintf(&b, "; false %s on %s: %s", f.Kind, f.Raised.Format("2 Jan"), f.Text)
	}
	return b.String()
}

// Start is the Monday on which every trial begins.
var Start = time.Date(2026, time.March, 2, 0, 0, 0, 0, time.UTC)

// NewRecord returns a record of a shop of ordinary habits: its fan runs for a while each morning with every gate shut.
func NewRecord(s *shop.Shop, seed uint64) *Record {
	r := &Record{Shop: s, Collector: s.Collectors[0], Plant: plant.DefaultOptions(seed), Work: plant.DefaultWork(seed, Start)}
	r.Work.Site = s.Site
	return r
}

// Run lets the watch live through days of a plant with a leak, or a healthy one.
func Run(s *shop.Shop, seed uint64, days int, leak *Leak) (*Outcome, error) {
	r := recordWith(s, seed, leak)
	w, err := watch.New(s)
	if err != nil {
		return nil, err
	}
	if err := r.Run(days, func(rd reading.Reading) { w.Reading(rd) }, nil); err != nil {
		return nil, fmt.Errorf("seed %d: %w", seed, err)
	}
	w.Flush()
	o := &Outcome{Seed: seed, Leak: leak}
	c := &w.Snapshot().Collectors[0]
	for _, d := range c.Days {
		if !math.IsNaN(d.Leakage.V) {
			o.Days++
		}
	}
	o.All = c.Days
	o.judge(c.Findings)
	return o, nil
}

// recordWith returns a record with a leak; nil: of a healthy plant.
func recordWith(s *shop.Shop, seed uint64, leak *Leak) *Record {
	r := NewRecord(s, seed)
	if leak != nil {
		r.Work.Faults = []plant.Fault{{Day: leak.Day, At: 5 * time.Hour, Kind: plant.LeakEvent, Name: leak.Part, Size: leak.Flow}}
	}
	return r
}

// RunAgainstBound is Run with a leak, and what the information in its readings allows to be known of that leak.
func RunAgainstBound(s *shop.Shop, seed uint64, days int, leak *Leak) (*Outcome, error) {
	o, err := Run(s, seed, days, leak)
	if err != nil {
		return nil, err
	}
	o.Bound, err = Bound(recordWith(s, seed, leak), days, leak)
	return o, err
}

// judge sorts the findings into the leak, what is true of any shop, and what is false.
func (o *Outcome) judge(all []finding.Finding) {
	o.Findings = all
	opened := time.Time{}
	if o.Leak != nil {
		opened = Start.AddDate(0, 0, o.Leak.Day)
	}
	for i := range all {
		f := all[i]
		switch f.Kind {
		case finding.AirShort, finding.FilterDue, finding.DustMaySettle, finding.FilterCleaned:
			continue // a real state of this shop
		case finding.NewLeak, finding.GrowingLeak, finding.GateLeaks:
			if o.Leak != nil && o.Found == nil && !f.Raised.Before(opened) {
				o.Found = &f
				continue
			}
		}
		if f.Priority != finding.Journal {
			o.False = append(o.False, f)
		}
	}
}

// DrawLeak draws a leak in the trunk or in a drop by a seed: 20 to 60 m³/h at 1500 Pa, opening on the given day.
func DrawLeak(c *shop.Collector, seed uint64, day int) *Leak {
	rng := rand.New(rand.NewPCG(seed, 0x1eaf))
	var parts []string
	for _, r := range c.Network.Runs {
		if strings.HasPrefix(r.Name, "trunk") {
			parts = append(parts, "run:"+r.Name)
		}
	}
	for _, g := range c.Gates {
		parts = append(parts, "drop:"+g.Name)
	}
	return &Leak{Part: parts[rng.IntN(len(parts))], Day: day, Flow: (20 + 40*rng.Float64()) / 3600}
}
