package trial

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"time"

	"ductward/internal/air"
	"ductward/internal/bound"
	"ductward/internal/plant"
	"ductward/internal/shop"
)

// study is the information of one plant's record: its own days of work, its own runs, and the noise that it is made with.
type study struct {
	c     *shop.Collector
	work  *plant.Workdays
	r     *bound.Response
	days  []bound.Day
	dates []int // by day of the record: its number in the calendar
}

// The runs that count: what is left of them when the transient is over.
const (
	transient = 10 * time.Second
	shortest  = 20 * time.Second
)

// stillTime is over how long a zero is read.
const stillTime = restWindow

// boundNoise turns the plant's figures into those of the bound. What the plant does not have, its readings do not suffer
// from. A zero is read at every stop of its day, and moves at midnight alone.
func boundNoise(o plant.Options) bound.Noise {
	n := bound.UsualNoise()
	n.StaticFloor, n.StaticShare, n.DropFloor, n.DropShare = o.StaticNoise, o.StaticShare, o.FilterNoise, o.FilterShare
	n.Correlation, n.Floor, n.Gain, n.Hood = (o.NoiseTime[0]+o.NoiseTime[1])/2, 0, o.Gain, o.HoodJitter
	n.Zero = o.StillNoise * math.Sqrt(2*n.Correlation/stillTime.Seconds())
	n.Day, n.DayCorrelation, n.SpeedDay, n.SpeedRun, n.SpeedTime = o.DayError, o.DayAR, o.FanDay, o.FanWander, o.WanderTime
	n.Built, n.Loss, n.Leakage, n.FanCurve = o.AsBuilt, o.AsBuilt, math.Hypot(o.LeakScale, o.LeakBuilt), o.FanBuilt
	n.Measured = n.Humidity                                                // the sensors of the plant's air have no error
	n.Exponent = (plant.SeamExponent - plant.HoleExponent) / math.Sqrt(12) // drawn evenly between the two
	return n
}

// newStudy makes the record of a plant's days up to days, of a filter as loaded as it is from a day on.
func newStudy(r *Record, noise bound.Noise, from, days int) (*study, error) {
	w, err := plant.NewWorkdays(r.Collector, r.Work)
	if err != nil {
		return nil, err
	}
	s := &study{c: r.Collector, work: w}
	t := &tracer{settings: map[string]int{}}
	var all [][]stretch
	filter := 0.0
	for d := range days {
		if d >= from {
			filter += math.Log(w.FilterAt(d)) / float64(days-from)
		}
		if runs := t.day(w.Day(d)); len(runs) > 0 {
			all, s.dates = append(all, runs), append(s.dates, d)
		}
	}
	a, err := air.At(r.Shop.Site.Temperature, air.PressureAt(r.Shop.Site.Altitude), r.Shop.Site.Humidity)
	if err != nil {
		return nil, err
	}
	if s.r, err = bound.Respond(r.Collector, t.sets, math.Exp(filter), a, noise, nil); err != nil {
		return nil, fmt.Errorf("bound: %w", err)
	}
	for _, runs := range all {
		s.days = append(s.days, s.day(runs))
	}
	return s, nil
}

// pause is how long a machine's gate may be shut between two runs of one use: what is too short to be a run.
const pause = time.Minute

// day turns runs into those of the bound. Runs that follow each other with a machine open are one use of it.
func (s *study) day(runs []stretch) bound.Day {
	var out bound.Day
	hours, uses := 0.0, 0
	using := map[int]int{} // by hood that is open: the number of its use
	for i, run := range runs {
		length := (run.to - run.from).Hours()
		b := bound.Run{Set: run.set, At: hours + length/2, Seconds: run.seconds(), Uses: []int{}}
		now := map[int]int{}
		for _, h := range s.r.Sets[run.set].Hoods {
			use, goesOn := using[h]
			if !goesOn || run.from-runs[i-1].to > pause {
				use = uses
				uses++
			}
			now[h] = use
			b.Uses = append(b.Uses, use)
		}
		using = now
		hours += length
		out = append(out, b)
	}
	return out
}

// until counts the record's days before a day of the calendar.
func (s *study) until(day int) int { return sort.SearchInts(s.dates, day) }

// step is the space of a change that comes on the morning of a day, told by the end of the day before another. Drops may
// wander as far besides.
func (s *study) step(from, to int, wander float64) (*bound.Space, error) {
	before, all := s.until(from), s.until(to)
	if before == 0 || all == before {
		return nil, errNoDays
	}
	rec, err := bound.NewRecord(s.r, s.days[:all])
	if err != nil {
		return nil, err
	}
	space, err := rec.Space(bound.Step(before, all-before))
	if err != nil {
		return nil, err
	}
	return space.Wander(drops(wander))
}

// errNoDays: nobody works on the days that a bound is asked of.
var errNoDays = fmt.Errorf("no day of work lies there")

// drops lets the loss of each drop wander.
func drops(sd float64) func(bound.Change) float64 {
	return func(c bound.Change) float64 {
		if c.Kind == bound.Block {
			return sd
		}
		return 0
	}
}

// Bound returns the standard error that nobody can better when the size of a leak is to be told from a record of so many
// days, in m³/s, its place known, its exponent not, and the loss of every drop free by as much as the watch allows for.
func Bound(r *Record, days int, leak *Leak) (float64, error) {
	noise := boundNoise(r.Plant)
	noise.Exponent = bound.UsualNoise().Exponent
	s, err := newStudy(r, noise, leak.Day, days)
	if err != nil {
		return 0, err
	}
	space, err := s.step(leak.Day, days, s.r.Noise.DropDrift)
	if err != nil {
		return 0, err
	}
	k := s.leakAt(leak.Part)
	if k < 0 {
		return 0, fmt.Errorf("bound: no leak part %q", leak.Part)
	}
	return space.SD(k, leak.Flow), nil
}

// leakAt finds a part among the changes, -1 if it is not there. A run that one machine alone breathes through is told by its
// drop, which says the same.
func (s *study) leakAt(part string) int {
	if k := s.r.Find(bound.Leak, part); k >= 0 {
		return k
	}
	name, ok := strings.CutPrefix(part, "run:")
	if !ok {
		return -1
	}
	for _, m := range s.c.Machines {
		path := s.c.PathOf(m.Name)
		if !slices.ContainsFunc(path, func(r *shop.Run) bool { return r.Name == name }) {
			continue
		}
		for _, r := range path {
			if r.Gate != "" {
				return s.r.Find(bound.Leak, "drop:"+r.Gate)
			}
		}
	}
	return -1
}
