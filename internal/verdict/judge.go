package verdict

import (
	"math"

	"ductward/internal/duct"
	"ductward/internal/shop"
)

// usualTransport (m/s) carries wood dust and chips where the shop file says nothing (TRGS 553).
const usualTransport = 20.0

// still (m/s) is air that stands: in a dead end the solve leaves flows of rounding, which carry no dust into it.
const still = 1e-3

// Judge is what has to be known of a collector to judge its solved states. It never changes, so that several goroutines
// may use it.
type Judge struct {
	Least float64 // m/s, what carries the dust

	collector *shop.Collector
	rating    []float64 // Pa, by run: its own, or the collector's; NaN where neither is known
	start     []int     // by run: the place where it begins
	end       []int     // by run
	at        [][]int   // by place: the runs that begin or end there
	hood      []int     // by machine: the place where its air enters
	port      []portAt  // by run: the selector that it leads to
	gate      []string  // by run
	places    map[shop.End]int
}

// portAt is a port of a selector; the empty name is none.
type portAt struct {
	selector string
	number   int
}

// For prepares the judge of a collector, which must have a drawing.
func For(c *shop.Collector) *Judge {
	j := &Judge{Least: Transport(c), collector: c, places: map[shop.End]int{}}
	starts := map[string]shop.End{}
	for _, r := range c.Network.Runs {
		starts[r.Name] = r.From
		if r.From.Kind == shop.EndNone {
			starts[r.Name] = shop.End{Kind: shop.EndRun, Name: r.Name}
		}
	}
	for _, r := range c.Network.Runs {
		to := r.To
		if to.Kind == shop.EndRun {
			to = starts[to.Name]
		}
		j.addRun(r, starts[r.Name], to)
	}
	for _, m := range c.Machines {
		at := shop.End{Kind: shop.EndMachine, Name: m.Name}
		if s, _ := c.PortOf(m.Name); s != nil {
			at = shop.End{Kind: shop.EndSelector, Name: s.Name}
		}
		j.hood = append(j.hood, j.place(at))
	}
	return j
}

// Transport is the velocity (m/s) that carries a collector's dust.
func Transport(c *shop.Collector) float64 {
	if c.Transport > 0 {
		return c.Transport
	}
	return usualTransport
}

func (j *Judge) addRun(r *shop.Run, from, to shop.End) {
	rating := j.collector.Rating
	if r.Rating > 0 {
		rating = r.Rating
	}
	var port portAt
	if s := j.collector.Selector(to.Name); to.Kind == shop.EndSelector && s != nil {
		for i, p := range s.Ports {
			if p == r.Name {
				port = portAt{s.Name, i + 1}
			}
		}
	}
	i := len(j.start)
	j.rating = append(j.rating, rating)
	j.gate = append(j.gate, r.Gate)
	j.port = append(j.port, port)
	j.start = append(j.start, j.place(from))
	j.end = append(j.end, j.place(to))
	j.at[j.start[i]] = append(j.at[j.start[i]], i)
	j.at[j.end[i]] = append(j.at[j.end[i]], i)
}

// place numbers the ends of runs; those that meet have one number.
func (j *Judge) place(e shop.End) int {
	n, ok := j.places[e]
	if !ok {
		n = len(j.at)
		j.places[e] = n
		j.at = append(j.at, nil)
	}
	return n
}

// Used tells, by run, which ones the air of an open machine goes through.
func (j *Judge) Used(r *duct.Result) []bool {
	used := make([]bool, len(r.Runs))
	seen := make([]bool, len(j.at))
	setting := r.State().Setting
	var queue []int
	reach := func(place int) {
		if !seen[place] {
			seen[place] = true
			queue = append(queue, place)
		}
	}
	for i, m := range r.Machines {
		if m.Open {
			reach(j.hood[i])
		}
	}
	for ; len(queue) > 0; queue = queue[1:] {
		for _, i := range j.at[queue[0]] {
			flow := r.Runs[i].Flow
			if j.shut(i, setting) || math.Abs(r.Runs[i].Velocity) < still {
				continue
			}
			switch {
			case flow > 0 && j.start[i] == queue[0]:
				used[i] = true
				reach(j.end[i])
			case flow < 0 && j.end[i] == queue[0]:
				used[i] = true
				reach(j.start[i])
			}
		}
	}
	return used
}

// shut tells that a run's gate, or the selector's port that it leads to, is shut.
func (j *Judge) shut(run int, st shop.Setting) bool {
	if g := j.gate[run]; g != "" && !st.Open[g] {
		return true
	}
	p := j.port[run]
	return p.selector != "" && st.Port[p.selector] != p.number
}
