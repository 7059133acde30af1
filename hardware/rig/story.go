package rig

import (
	"math"
	"time"

	"ductward/internal/journal"
	"ductward/internal/plant"
	"ductward/internal/shop"
)

// Story is what the demo lets happen to a collector, for pages that want to tell it and tests that want to check it.
type Story struct {
	Collector  string
	Seam       string    // part that starts to open; "": none does
	SeamSince  time.Time // when
	SeamGrowth float64   // m³/s at 1500 Pa, per day
	Seat       string    // part that wears out; "": none does
	SeatSince  time.Time
	SeatLeak   float64 // m³/s at 1500 Pa

	midnight time.Time // of the first day
	start    time.Time
	end      time.Time
	cleanAt  float64 // filter resistance at which somebody thinks of cleaning
}

// The story's measures. A seam that opens by 12 m³/h a month is seen within weeks, and stands at some 25 m³/h at the end.
const (
	seamWeeks      = 9
	seatWeeks      = 3
	seamPerMonth   = 12.0 / 3600 // m³/s
	seatSize       = 10.0 / 3600 // m³/s
	daysOfMonth    = 30.4
	cleanShare     = 0.88 // of the way from clean to the filter's limit at which people clean
	shareAtEnd     = 0.55 // of the way to cleanAt at which the filter stands at the end: due in one to two weeks
	shareTolerance = 0.05
)

// The working days from clean to cleaning, between which the story looks for those that lead to shareAtEnd.
const (
	fewestDays = 15.0
	mostDays   = 20.0
	dusts      = 60
)

// tell makes up the story of a collector. Its days are those of the shop's own clock. What would have begun before the
// start is left out.
func tell(sh *shop.Shop, c *shop.Collector, start, end time.Time) Story {
	where := sh.Site.Location
	if where == nil {
		where = time.UTC
	}
	y, m, d := start.In(where).Date()
	s := Story{Collector: c.Name, start: start, end: end, midnight: time.Date(y, m, d, 0, 0, 0, 0, where),
		SeamSince: end.AddDate(0, 0, -7*seamWeeks), SeamGrowth: seamPerMonth / daysOfMonth,
		SeatSince: end.AddDate(0, 0, -7*seatWeeks), SeatLeak: seatSize}
	if s.SeamSince.After(start) {
		s.Seam = "run:" + trunk(c)
	}
	if len(c.Gates) > 1 && s.SeatSince.After(start) {
		s.Seat = "seat:" + c.Gates[1].Name
	}
	s.cleanAt = 1 + cleanShare*(limitRatio(&c.Filter)-1)
	return s
}

// trunk returns the longest run between two junctions, or the last run where there is none.
func trunk(c *shop.Collector) string {
	runs := c.Network.Runs
	best := runs[len(runs)-1]
	length := 0.0
	for _, r := range runs {
		if r.From.Kind == shop.EndJunction && r.To.Kind == shop.EndJunction && r.Length > length {
			best, length = r, r.Length
		}
	}
	return best.Name
}

// limitRatio returns the resistance of the filter's medium against clean at which its limit is reached.
func limitRatio(f *shop.Filter) float64 {
	q := f.LimitFlow
	if !(q > 0) {
		q = f.CleanFlow
	}
	housing := f.HousingLoss
	if !(housing > 0) {
		housing = 0
	}
	x := q / f.CleanFlow
	ratio := (f.Limit - housing*x*x) / ((f.CleanDrop - housing) * x)
	if !(ratio > 1.3) { // no limit given, or one that is reached at once
		return 2.4
	}
	return math.Min(ratio, 5)
}

// workdays makes the collector's days, with a filter that stands where the story wants it at the end.
func (s *Story) workdays(sh *shop.Shop, c *shop.Collector, seed uint64) (*plant.Workdays, error) {
	o := plant.DefaultWork(seed, s.midnight)
	o.Site, o.Busy, o.CleanAt = sh.Site, s.end, s.cleanAt
	if !(c.Rating > shutOff(&c.Fan)) {
		o.Closed = plant.NeverClosed
	}
	o.Walk = true
	calendar, err := plant.NewWorkdays(c, o)
	if err != nil {
		return nil, err
	}
	o.Faults = s.faults(calendar)
	first, err := plant.NewWorkdays(c, o)
	if err != nil {
		return nil, err
	}
	last := first.DayOf(s.end) - 1
	first.FilterAt(last) // so that the others know already when the fan runs
	best, miss := first, math.Inf(1)
	for try := range dusts {
		// A little more or less dust in a day shifts the cleanings of half a year by weeks.
		w := first.Reloaded(fewestDays + (mostDays-fewestDays)*float64(try)/dusts)
		share := (w.FilterAt(last) - 1) / (s.cleanAt - 1)
		if off := math.Abs(share - shareAtEnd); off < miss {
			best, miss = w, off
		}
		if miss < shareTolerance {
			break
		}
	}
	return best, nil
}

// faults are the story's, on the days of its work.
func (s *Story) faults(w *plant.Workdays) []plant.Fault {
	var out []plant.Fault
	if s.Seam != "" {
		out = append(out, plant.Fault{Day: w.DayOf(s.SeamSince), At: time.Minute, Kind: plant.LeakEvent, Name: s.Seam, PerDay: s.SeamGrowth})
	}
	if s.Seat != "" {
		out = append(out, plant.Fault{Day: w.DayOf(s.SeatSince), At: 11 * time.Hour, Kind: plant.LeakEvent, Name: s.Seat, Size: s.SeatLeak})
	}
	return out
}

// shutOff returns the largest pressure of the fan's curve, Pa.
func shutOff(f *shop.Fan) float64 {
	most := 0.0
	for _, p := range f.Points {
		most = math.Max(most, p.Pressure)
	}
	if len(f.Coefficients) > 0 {
		most = math.Max(most, f.Coefficients[0])
	}
	return most
}

// written is how many of three cleanings somebody writes down.
const written = 2

// Journal returns what people have written down until a moment: two cleanings of three, and the bin emptied on Fridays.
func (d *Demo) Journal(until time.Time) []journal.Entry {
	d.mu.Lock()
	defer d.mu.Unlock()
	var out []journal.Entry
	for _, l := range d.lives {
		out = append(out, l.journal(until)...)
	}
	return out
}

func (l *life) journal(until time.Time) []journal.Entry {
	var out []journal.Entry
	cleanings := 0
	for n := l.work.DayOf(l.story.start); l.work.Date(n).Before(until); n++ {
		date := l.work.Date(n)
		note := func(at time.Duration, e journal.Entry) {
			if e.Time = date.Add(at); !e.Time.Before(l.story.start) && e.Time.Before(until) {
				out = append(out, e)
			}
		}
		for _, e := range l.work.Day(n) {
			if e.Kind != plant.CleanedEvent {
				continue
			}
			if cleanings++; cleanings%3 < written {
				note(e.At+20*time.Minute, journal.Entry{Kind: journal.FilterCleaned, Subject: l.story.Collector, Note: "shaken down, then vacuumed with the M-class vacuum", By: "Ines"})
			}
		}
		if date.Weekday() == time.Friday && l.work.Working(n) {
			note(15*time.Hour+30*time.Minute, journal.Entry{Kind: journal.BinEmptied, Subject: l.story.Collector, By: "Tom"})
		}
	}
	return out
}
