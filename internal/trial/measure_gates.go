package trial

import (
	"math"
	"slices"
	"strings"
	"time"

	"ductward/internal/reading"
	"ductward/internal/shop"
)

// silentGates is the scenario in which the gates tell nothing from silentFrom on. Until then the watch has heard of every
// one.
const (
	silentGates = "silent gates"
	silentFrom  = faultDay
)

// moves keeps where the gates of a shop really stand.
type moves struct {
	gates []string
	open  map[string]bool
	at    []time.Duration
	sets  []string       // after each move
	seen  map[string]int // how often each was heard of
}

func newMoves(c *shop.Collector) *moves {
	m := &moves{open: map[string]bool{}, seen: map[string]int{}}
	for _, g := range c.Gates {
		m.gates = append(m.gates, g.Name)
	}
	slices.Sort(m.gates)
	return m
}

// hear takes note of a gate's position, and takes it out of the reading when the gates are silent.
func (m *moves) hear(r *reading.Reading, silent bool) {
	name, ok := strings.CutPrefix(r.Channel, "gate/")
	if !ok {
		return
	}
	m.open[name] = r.Value == 1
	var set []string
	for _, g := range m.gates {
		if m.open[g] {
			set = append(set, g)
		}
	}
	key := strings.Join(set, "+")
	m.at, m.sets = append(m.at, r.Mono), append(m.sets, key)
	if silent {
		r.Value = math.NaN()
	} else {
		m.seen[key]++
	}
}

// during returns the set of open gates that held from one moment to another; false where one moved in between.
func (m *moves) during(from, to time.Duration) (string, bool) {
	first, _ := slices.BinarySearch(m.at, from+1)
	return m.sets[first-1], first == len(m.at) || m.at[first] >= to
}

// knownPair is how often a pair must have been open with known gates to be asked for.
const knownPair = 3

// measureGates tells how often the gates that are open are told, and how often they are surely told and are not open.
func measureGates(l *life, m Metrics) {
	for _, g := range l.guesses {
		set, whole := l.moves.during(g.Start, g.End)
		if !whole { // somebody moved something within the block that ends it
			continue
		}
		right := set == strings.Join(g.Open, "+")
		switch n := strings.Count(set, "+") + 1; {
		case set == "":
		case n == 1:
			m.add("one right", flag(right))
		case n == 2 && l.moves.seen[set] >= knownPair:
			m.add("two right", flag(right))
		}
		m.add("sure", flag(g.Used))
		m.add("sure and wrong", flag(g.Used && !right))
		if g.Used {
			m.add("sure right", flag(right))
		}
	}
}
