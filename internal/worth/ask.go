package worth

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"

	"ductward/internal/air"
	"ductward/internal/bound"
	"ductward/internal/duct"
	"ductward/internal/shop"
	"ductward/internal/verdict"
)

// Question is what is asked of a shop.
type Question struct {
	Habits bound.Habits // Checks are those that the shop makes already
	Noise  bound.Noise
	Filter float64   // resistance over that of the clean filter
	Leak   float64   // m³/s at the reference suction: the leak whose place is asked
	Air    air.State // in the ducts
	Draws  int       // of the noise, for places
	Seed   uint64

	Densest air.State          // in which the ducts must bear what is proposed
	Step    func(done, of int) // is told how far it is; may be nil
}

// Usual is the question that is asked where nothing else is said: a filter on its way to its limit, and a leak of 100 m³/h.
func Usual(site shop.Site) (Question, error) {
	a, err := air.At(site.Temperature, air.PressureAt(site.Altitude), site.Humidity)
	if err != nil {
		return Question{}, err
	}
	densest, err := verdict.DensestAir(site)
	return Question{Habits: bound.UsualHabits(), Noise: bound.UsualNoise(), Filter: 1.5, Leak: 100.0 / 3600, Air: a,
		Draws: 400, Seed: 1, Densest: densest}, err
}

// Answer is what could be added to one collector.
type Answer struct {
	Collector  string
	Reference  float64 // Pa, the suction at which leaks are told
	Needy      string  // the machine that lacks most air; "" where none can be opened
	Now        Figures
	Candidates []Candidate // the one that brings most first
	Refused    []Refused
	Question   Question
}

// asked names the virtual sensor at the neediest machine.
const asked = prefix + "air"

// asking is one collector while it is asked.
type asking struct {
	c        *shop.Collector
	q        Question
	all      *bound.Response // with every candidate drawn in
	alone    int
	needy    string
	needySet int
}

// Of ranks what could be added to a collector, which must have a drawing.
func Of(c *shop.Collector, q Question) (*Answer, error) {
	sets, alone := bound.Settings(c)
	if alone == 0 {
		return nil, fmt.Errorf("collector %q: no machine can be opened, so there is nothing to see; write machines and the runs that begin at them", c.Name)
	}
	a := &asking{c: c, q: q, alone: alone}
	if err := a.findNeedy(sets); err != nil {
		return nil, fmt.Errorf("collector %q: %w", c.Name, err)
	}
	list := sensors(c)
	more, refused, err := checks(c, q)
	if err != nil {
		return nil, fmt.Errorf("collector %q: %w", c.Name, err)
	}
	list = append(list, more...)
	if err := a.respond(sets, list); err != nil {
		return nil, fmt.Errorf("collector %q: %w", c.Name, err)
	}
	out := &Answer{Collector: c.Name, Reference: reference(c), Needy: a.needy, Question: q}
	if refused != nil {
		out.Refused = append(out.Refused, *refused)
	}
	if out.Now, err = a.try(nil); err != nil {
		return nil, fmt.Errorf("collector %q: %w", c.Name, err)
	}
	if err := a.tryAll(list, out.Now); err != nil {
		return nil, fmt.Errorf("collector %q: %w", c.Name, err)
	}
	slices.SortStableFunc(list, func(x, y Candidate) int { return cmp.Compare(y.Score, x.Score) })
	out.Candidates = list
	return out, nil
}

// reference is the suction at which leaks of a collector are told.
func reference(c *shop.Collector) float64 {
	if c.Alarms.ReferenceSuction > 0 {
		return c.Alarms.ReferenceSuction
	}
	return 1500
}

// promise is the number of false alarms a year that the shop is promised.
func (a *asking) promise() float64 {
	if p := a.c.Alarms.FalseAlarmsPerYear; p > 0 {
		return p
	}
	return 1
}

// findNeedy finds the machine that has the least of its need when it is open alone.
func (a *asking) findNeedy(sets []shop.Setting) error {
	m, err := duct.New(a.c)
	if err != nil {
		return err
	}
	least := math.Inf(1)
	needs := slices.ContainsFunc(a.c.Machines, func(m *shop.Machine) bool { return m.Needs > 0 })
	for i, set := range sets[1 : 1+a.alone] {
		res, err := m.Solve(duct.State{Setting: set, Air: a.q.Air, FilterRatio: a.q.Filter})
		if err != nil {
			return err
		}
		for _, f := range res.Machines {
			share := f.Flow / f.Needs
			if !needs {
				share = f.Flow // nobody says what is needed: the one with the least air
			}
			if f.Open && share < least {
				a.needy, a.needySet, least = f.Name, 1+i, share
			}
		}
	}
	return nil
}

// respond solves the collector with everything drawn in.
func (a *asking) respond(sets []shop.Setting, list []Candidate) error {
	drawn := *a.c
	drawn.Sensors = slices.Clone(a.c.Sensors)
	for _, k := range list {
		if k.Sensor != nil {
			drawn.Sensors = append(drawn.Sensors, k.Sensor)
		}
	}
	virtual := map[string]bool{}
	if a.needy != "" {
		path := a.c.PathOf(a.needy)
		drawn.Sensors = append(drawn.Sensors, &shop.Sensor{Name: asked, Measures: shop.VelocityPressure, Run: path[0].Name})
		virtual[asked] = true
	}
	var err error
	a.all, err = bound.Respond(&drawn, sets, a.q.Filter, a.q.Air, a.q.Noise, virtual)
	return err
}

// try works out what the shop sees with a candidate, or as it is.
func (a *asking) try(k *Candidate) (Figures, error) {
	with, checks := "", a.q.Habits.Checks
	measured := map[shop.Quantity]bool{}
	for _, s := range a.c.Sensors {
		measured[s.Measures] = true
	}
	if k != nil {
		checks = max(checks, k.Checks)
		if k.Sensor != nil {
			with = k.Sensor.Name
			measured[k.Sensor.Measures] = true
		}
	}
	return a.look(func(ch bound.Channel) bool {
		name := strings.TrimPrefix(ch.Name, a.c.Name+"/")
		return !strings.HasPrefix(name, prefix) || name == with || name == asked
	}, measured, checks)
}

// tryAll tries all candidates, on all processors; the answer does not depend on their number.
func (a *asking) tryAll(list []Candidate, now Figures) error {
	errs := make([]error, len(list))
	work := make(chan int)
	var wg sync.WaitGroup
	var lock sync.Mutex
	done := 0
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for i := range work {
				k := &list[i]
				k.Figures, errs[i] = a.try(k)
				k.Score = score(now, k.Figures)
				lock.Lock()
				done++
				if a.q.Step != nil {
					a.q.Step(done, len(list))
				}
				lock.Unlock()
			}
		})
	}
	for i := range list {
		work <- i
	}
	close(work)
	wg.Wait()
	return errors.Join(errs...)
}
