package bound

import (
	"fmt"
	"slices"
	"strings"

	"ductward/internal/shop"
	"ductward/internal/verdict"
)

// Checks says when the fan runs with every gate shut.
type Checks int

// The schedules of closed checks.
const (
	NoChecks    Checks = iota
	WeeklyCheck        // ten minutes after work on the last day of the week
	DailyCheck         // two minutes before work each morning
)

// Habits is how a shop works, where nothing is known but its drawing.
type Habits struct {
	Runs    int     // of unchanged gates a day
	Minutes float64 // that each lasts
	Checks  Checks
}

// UsualHabits is a shop of a few people (common practice, no source).
func UsualHabits() Habits { return Habits{Runs: 36, Minutes: 9} }

// The lengths of what is done on purpose, in seconds; settling is what of a run does not count.
const (
	dailySeconds  = 120.0
	weeklySeconds = 600.0
	walkSeconds   = 150.0
	settling      = 20.0
	weekDays      = 5
)

// mostPairs is how many sets of two machines a week has at most: in a large shop they are spread over it.
const mostPairs = 16

// Settings returns the sets of gates of a shop: everything shut that can be, each machine alone, and pairs of neighbours in
// the file. Machines that cannot be opened, and pairs that one hose or selector forbids, are left out. alone is the number
// of sets of one machine.
func Settings(c *shop.Collector) (sets []shop.Setting, alone int) {
	seen := map[string]bool{}
	add := func(machines ...string) {
		s, err := verdict.Opening(c, machines...)
		if err != nil || seen[positions(s)] {
			return
		}
		seen[positions(s)] = true
		sets = append(sets, s)
	}
	add()
	for _, m := range c.Machines {
		add(m.Name)
	}
	alone = len(sets) - 1
	step := max(1, (len(c.Machines)-1+mostPairs-1)/mostPairs)
	for i := 1; i < len(c.Machines); i += step {
		add(c.Machines[i-1].Name, c.Machines[i].Name)
	}
	return sets, alone
}

// positions names where everything stands in a setting.
func positions(s shop.Setting) string {
	var ports []string
	for name, port := range s.Port {
		ports = append(ports, fmt.Sprintf("%s=%d", name, port))
	}
	slices.Sort(ports)
	return openWords(s) + ";" + strings.Join(ports, ",")
}

// Week returns the five days of a week in which the sets follow each other, the closed one only in checks. Of the
// response's sets, those up to alone are of one machine; two runs of three are of these.
func (h Habits) Week(r *Response, alone int) []Day {
	closed, single, several := r.split(alone)
	var days []Day
	n, m := 0, 0
	for d := range weekDays {
		var day Day
		if h.Checks == DailyCheck {
			day = day.with(closed, dailySeconds)
		}
		for k := range h.Runs {
			set := 0
			switch {
			case len(single) == 0 && len(several) == 0:
				continue
			case len(several) > 0 && k%3 == 2 || len(single) == 0:
				set = several[m%len(several)]
				m++
			default:
				set = single[n%len(single)]
				n++
			}
			day = day.with([]int{set}, 60*h.Minutes)
		}
		if h.Checks == WeeklyCheck && d == weekDays-1 {
			day = day.with(closed, weeklySeconds)
		}
		days = append(days, day)
	}
	return days
}

// Walk returns a day that begins with each machine alone, one after the other.
func (h Habits) Walk(r *Response, alone int, rest Day) Day {
	_, single, _ := r.split(alone)
	day := Day{}.with(single, walkSeconds)
	from := 0.0
	for _, run := range day {
		from = max(from, run.At+run.Seconds/7200)
	}
	for _, run := range rest {
		run.At += from
		day = append(day, run)
	}
	return day
}

// split parts the sets into that with all gates shut, those of one machine and the others.
func (r *Response) split(alone int) (closed, single, several []int) {
	for i := range r.Sets {
		switch {
		case r.Sets[i].Closed:
			closed = append(closed, i)
		case i <= alone:
			single = append(single, i)
		default:
			several = append(several, i)
		}
	}
	return closed, single, several
}

// with returns the day with runs of the given sets after what it has.
func (d Day) with(sets []int, seconds float64) Day {
	at := 0.0
	for _, run := range d {
		at = max(at, run.At+(run.Seconds+settling)/7200)
	}
	out := slices.Clone(d)
	for _, s := range sets {
		half := seconds / 7200
		out = append(out, Run{Set: s, At: at + half, Seconds: seconds - settling})
		at += 2 * half
	}
	return out
}
