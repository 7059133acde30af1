package main

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"time"
)

// life is a plant's days of work, as a logger writes them down: one-minute means that straddle whatever happens within them.
type life struct {
	*plant
	options
	r       *rand.Rand
	out     io.Writer
	journal io.Writer
	weather weather

	filter   float64 // resistance against the clean one
	x        []float64
	hood     []float64 // of this use
	stirred  []wander
	zero     map[string]float64
	gain     map[string]float64
	dayError map[string]*wander
	lagged   map[string]float64
	truth    truth
}

type options struct {
	set       string
	days      int
	barometer bool
	less      string // what the shop file leaves out
	habits    habits
	jitter    float64 // s.d. of the log of a hood's loss by use
	stir      float64 // and within one
	sloppy    float64 // s, s.d. of the times of the gates
	forget    float64 // share of the uses of which no gate is noted
	linger    float64 // share of the uses of which it is noted that they begin, and not that they end
	quiet     bool    // a cleaning is not in the logbook
	sd        bool    // rows carry the standard deviation of their samples
	faults    []fault
	missing   float64 // share of rows that are lost
}

// truth is what was so.
type truth struct {
	Law     int        `json:"law"`
	Faults  []fault    `json:"faults"`
	Days    []truthDay `json:"days"`
	Cleaned []string   `json:"cleaned"`
}

type truthDay struct {
	Date   string  `json:"date"`
	Filter float64 `json:"filter"`    // mean resistance of the day against clean
	Leak   float64 `json:"leak_m3_h"` // new leakage at its end
	Speed  float64 `json:"speed"`
	Check  bool    `json:"check"`
	Hidden int     `json:"unnoted,omitempty"` // uses that nobody noted
	Stays  int     `json:"stays,omitempty"`   // and gates that were noted as opened and not as shut
}

const dirty = 2.0 // resistance at which people clean

func (l *life) live(from time.Time) error {
	l.weather = weather{wander{sd: 850, keep: 0.8}, wander{sd: 1.5, keep: 0.7}}
	l.filter = 1 + 0.5*l.r.Float64()
	l.x = make([]float64, len(l.machines))
	l.hood = make([]float64, len(l.machines))
	l.zero, l.gain, l.dayError, l.lagged = map[string]float64{}, map[string]float64{}, map[string]*wander{}, map[string]float64{}
	for range l.machines {
		l.stirred = append(l.stirred, wander{sd: l.stir, keep: math.Exp(-1.0 / 6)})
	}
	for _, s := range pressures[:fitted[l.set]] {
		l.zero[s], l.gain[s] = 3*l.r.NormFloat64(), math.Exp(0.03*l.r.NormFloat64())
		l.dayError[s] = &wander{sd: 0.003, keep: 0.5}
	}
	l.truth.Law, l.truth.Faults = int(l.law), l.faults
	fmt.Fprintln(l.out, "time,channel,value,unit,span_s,sd,n")
	fmt.Fprintln(l.journal, "time,kind,subject,note,by")
	for day, date := 0, from; day < l.days; date = date.AddDate(0, 0, 1) {
		if w := date.Weekday(); w == time.Saturday || w == time.Sunday {
			continue
		}
		if err := l.day(day, date); err != nil {
			return fmt.Errorf("day %d: %w", day, err)
		}
		day++
	}
	return nil
}

func (l *life) day(day int, date time.Time) error {
	l.weather.barometer.step(l.r)
	l.weather.warmth.step(l.r)
	for _, s := range pressures[:fitted[l.set]] {
		l.zero[s] += 0.4 * l.r.NormFloat64()
		l.dayError[s].step(l.r)
	}
	if l.filter > dirty {
		l.filter = 0.95 + 0.1*l.r.Float64()
		at := date.Add(6*time.Hour + 50*time.Minute).UTC().Format(time.RFC3339)
		l.truth.Cleaned = append(l.truth.Cleaned, at)
		if !l.quiet {
			fmt.Fprintf(l.journal, "%s,filter-cleaned,main,,\n", at)
		}
	}
	moves := l.dayMoves(l.r, l.habits, date.Weekday())
	d := &workday{life: l, day: day, date: date, moves: moves, dust: math.Exp(0.4 * l.r.NormFloat64()), open: make([]bool, len(l.machines)),
		noted: make([]time.Duration, len(l.machines)), unnoted: make([]bool, len(l.machines))}
	for _, f := range l.faults {
		if f.Kind == "open" && day >= f.Day && (f.Days == 0 || day < f.Day+f.Days) { // it is left open, or does not shut
			d.stuck = append(d.stuck, l.index(f.Part))
		}
	}
	return d.run()
}
