package worth

import (
	"math"
	"slices"
	"strings"

	"ductward/internal/bound"
	"ductward/internal/shop"
)

// Figures are what a shop sees, see the package's comment. NaN: its readings say nothing of it; +Inf: no leak of any size.
type Figures struct {
	Day, Week, Apart float64
	Stretch          float64
	Filter, Air      float64
	Zones            []Zone
}

// Zone is one place that may leak.
type Zone struct {
	Part string
	SD   float64 // m³/s at the reference suction, of a leak of the size asked, after a week
}

// The baseline that every figure rests on, in working days, and the week after it.
const (
	baselineDays = 10
	weekDays     = 5
)

// found is how often a leak must be found.
const found = 0.9

// largestLeak (m³/s) is beyond what anybody would call one.
const largestLeak = 1.0

// freeDrop is the standard deviation of the log loss of each drop while a leak is told apart from that: a third, as where
// a drop is half blocked.
const freeDrop = 0.3

// nothing is what a shop without any sensor sees.
func nothing() Figures {
	return Figures{Day: math.Inf(1), Week: math.Inf(1), Apart: math.Inf(1), Stretch: math.NaN(), Filter: math.NaN(), Air: math.NaN()}
}

// look works out what some of the sensors tell.
func (a *asking) look(keep func(bound.Channel) bool, measured map[shop.Quantity]bool, checks bound.Checks) (Figures, error) {
	r := a.all.Only(keep, measured)
	f := nothing()
	if !slices.ContainsFunc(r.Channels, func(c bound.Channel) bool { return !c.Virtual }) {
		return f, nil
	}
	h := a.q.Habits
	h.Checks = checks
	week := h.Week(r, a.alone)
	days := []bound.Day{h.Walk(r, a.alone, week[0])}
	for d := 1; d < baselineDays+weekDays; d++ {
		days = append(days, week[d%weekDays])
	}
	first, err := bound.NewRecord(r, days[:baselineDays+1])
	if err != nil {
		return f, err
	}
	whole, err := bound.NewRecord(r, days)
	if err != nil {
		return f, err
	}
	if err := a.leaks(&f, r, first, whole); err != nil {
		return f, err
	}
	return f, a.levels(&f, r, first)
}

// leaks fills in what is told of leaks.
func (a *asking) leaks(f *Figures, r *bound.Response, first, whole *bound.Record) error {
	places := r.Of(func(c bound.Change) bool {
		return c.Kind == bound.Leak && !c.OpenSide() && !strings.HasPrefix(c.Part, "inlet:")
	})
	stretches := r.Of(func(c bound.Change) bool { return strings.HasPrefix(c.Part, "run:") })
	threshold := bound.FamilyOf(r, a.promise()).Threshold()
	day, err := first.Space(bound.Step(baselineDays, 1))
	if err != nil {
		return err
	}
	week, err := whole.Space(bound.Step(baselineDays, weekDays))
	if err != nil {
		return err
	}
	drops := func(sd float64) func(bound.Change) float64 {
		return func(c bound.Change) float64 {
			if c.Kind == bound.Block {
				return sd
			}
			return 0
		}
	}
	if day, err = day.Wander(drops(r.Noise.DropDrift)); err != nil {
		return err
	}
	apart, err := week.Wander(drops(freeDrop))
	if err != nil {
		return err
	}
	if week, err = week.Wander(drops(r.Noise.DropDrift)); err != nil {
		return err
	}
	f.Day = day.Smallest(places, found, threshold, largestLeak)
	f.Week = week.Smallest(places, found, threshold, largestLeak)
	f.Apart = apart.Smallest(places, found, threshold, largestLeak)
	if len(stretches) > 1 {
		f.Stretch = week.Places(stretches, a.q.Leak, bound.UsualPrior(), a.q.Draws, a.q.Seed).First
	}
	for _, k := range places {
		f.Zones = append(f.Zones, Zone{r.Changes[k].Part, apart.SD(k, a.q.Leak)})
	}
	return nil
}

// levels fills in what is told of the filter and of the air at the neediest machine.
func (a *asking) levels(f *Figures, r *bound.Response, first *bound.Record) error {
	var err error
	if f.Filter, err = first.FilterSD(baselineDays); err != nil {
		return err
	}
	if f.Filter > hopeless {
		f.Filter = math.NaN()
	}
	if a.needy == "" {
		return nil
	}
	f.Air, err = first.AirSD(a.c.Name+"/"+asked, a.needySet)
	return err
}

// hopeless is the error of a log resistance from which on nobody would call it known.
const hopeless = 0.5

// littleDoubt is the doubt about a stretch below which it no longer counts for more to lose some of it: the draws decide
// that, not the sensors.
const littleDoubt = 0.1

// score compares what is seen with what was.
func score(now, then Figures) float64 {
	sum := shrinks(now.Week, then.Week) + shrinks(now.Apart, then.Apart) + shrinks(now.Filter, then.Filter)
	before, after := now.Stretch, then.Stretch
	if math.IsNaN(before) {
		before = 0
	}
	if after > before {
		sum += (after - before) / max(1-before, littleDoubt)
	}
	return sum / 4
}

// shrinks is the share by which an error or a size shrinks: all of it where nothing was known before.
func shrinks(before, after float64) float64 {
	switch {
	case math.IsNaN(after) || math.IsInf(after, 1):
		return 0
	case math.IsNaN(before) || math.IsInf(before, 1):
		return 1
	}
	return max(0, 1-after/before)
}
