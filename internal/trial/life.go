package trial

import (
	"fmt"
	"math"
	"time"

	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/plant"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/watch"
)

// faultDay is the day on whose morning faults begin: the fourth Monday, when the baseline is complete and two weeks of
// work have gone by since.
const faultDay = 21

// faultHour is the time of that day, before work.
const faultHour = 5 * time.Hour

// life is one plant that the watch has lived through.
type life struct {
	seed     uint64
	c        *shop.Collector
	work     *plant.Workdays
	days     int
	from     int // the first day of work with the fault
	faults   []plant.Fault
	ratio    []float64 // the filter's resistance against clean at the end of each day
	leakage  []float64 // all leaks opened, m³/s at 1500 Pa, at the end of each day
	told     []estimate.Day
	findings []finding.Finding
	complete bool // the baseline is
	moves    *moves
	guesses  []estimate.Guess
}

// youth is what the watch has gathered of a plant at the midnight before faultDay, from which every scenario of that plant
// goes on. It is empty until a life has come as far.
type youth struct {
	checkpoint []byte
	since      uint64 // number of the reading that ended the last run: a checkpoint does not know what came after it
}

// live lets the watch live through the days of a plant, from its youth on where there is one.
func live(st Setting, sc *scenario, seed uint64, young *youth) (*life, error) {
	s, err := Shop(st.Set, st.Air)
	if err != nil {
		return nil, err
	}
	l := &life{seed: seed, c: s.Collectors[0], days: sc.days}
	if sc.fault != nil {
		l.faults = sc.fault(l.c, seed)
	}
	r := &Record{Shop: s, Collector: l.c}
	r.Plant, r.Work = st.options(seed)
	r.Work.Site, r.Work.Faults = s.Site, l.faults
	if l.work, err = plant.NewWorkdays(l.c, r.Work); err != nil {
		return nil, err
	}
	if len(l.faults) > 0 {
		l.from = l.faults[0].Day
		for l.from < l.days && !l.work.Working(l.from) {
			l.from++
		}
	}
	w, err := watch.New(s)
	if err != nil {
		return nil, err
	}
	w.Unadvised()
	grown := len(young.checkpoint) > 0
	if grown {
		if err := w.Resume(young.checkpoint); err != nil {
			return nil, err
		}
	}
	var wrong error
	each := func(day int, p *plant.Plant) {
		t, err := p.Truth()
		if day == faultDay-1 && !grown && err == nil {
			young.checkpoint, err = w.Checkpoint()
		}
		if err != nil && wrong == nil {
			wrong = err
		}
		l.ratio, l.leakage = append(l.ratio, t.FilterRatio), append(l.leakage, t.NewLeakage)
	}
	l.moves = newMoves(l.c)
	hear := func(rd reading.Reading) {
		l.moves.hear(&rd, sc.name == silentGates && !rd.Time.Before(l.work.Date(silentFrom)))
		if grown && rd.Seq < young.since {
			return
		}
		if runs := w.Reading(rd); len(runs) > 0 && len(young.checkpoint) == 0 {
			young.since = rd.Seq
		}
	}
	if err := r.Run(l.days, hear, each); err != nil {
		return nil, fmt.Errorf("%s, seed %d: %w", st, seed, err)
	}
	if wrong != nil {
		return nil, fmt.Errorf("%s, seed %d: %w", st, seed, wrong)
	}
	w.Flush()
	c := &w.Snapshot().Collectors[0]
	l.told, l.findings, l.complete, l.guesses = c.Days, c.Findings, c.Baseline.Complete, c.Guesses
	return l, nil
}

// date returns the civil label of a day.
func (l *life) date(day int) string { return l.work.Date(day).Format(time.DateOnly) }

// day returns what is told of a day, nil where nothing is.
func (l *life) day(n int) *estimate.Day {
	for i := range l.told {
		if l.told[i].Date == l.date(n) {
			return &l.told[i]
		}
	}
	return nil
}

// lastWorked returns the last day of work before day end.
func (l *life) lastWorked(end int) int {
	for n := end - 1; n > 0; n-- {
		if l.work.Working(n) {
			return n
		}
	}
	return 0
}

// raisedBy tells whether a finding was raised after the fault came and before the end of a day.
func (l *life) raisedBy(f *finding.Finding, day int) bool {
	return !f.Raised.Before(l.work.Date(faultDay)) && f.Raised.Before(l.work.Date(day+1).Add(time.Hour))
}

// asks tells whether a finding asks something of somebody, and not by what is true of any shop.
func asks(f *finding.Finding) bool {
	switch f.Kind {
	case finding.AirShort, finding.FilterDue, finding.DustMaySettle, finding.FilterCleaned:
		return false
	}
	return f.Priority != finding.Journal
}

// isLeak tells whether a finding is of a leak.
func isLeak(f *finding.Finding) bool {
	return f.Kind == finding.NewLeak || f.Kind == finding.GrowingLeak || f.Kind == finding.GateLeaks
}

// known tells whether a number is one.
func known(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// flag is 1 for yes.
func flag(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}
