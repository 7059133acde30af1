package trial

import (
	"fmt"
	"sort"
	"strings"
	"time"

	"ductward/internal/plant"
	"ductward/internal/shop"
)

// stretch is one run of unchanged gates.
type stretch struct {
	set      int
	from, to time.Duration
}

// seconds are those that count.
func (s stretch) seconds() float64 { return (s.to - s.from - transient).Seconds() }

// tracer follows the gates through the days.
type tracer struct {
	now      shop.Setting
	fan      bool
	sets     []shop.Setting
	settings map[string]int
}

// day returns the runs of a day.
func (t *tracer) day(events []plant.Event) []stretch {
	if t.now.Open == nil {
		t.now = shop.Setting{Open: map[string]bool{}, Port: map[string]int{}}
	}
	var out []stretch
	since := time.Duration(0)
	for _, e := range events {
		switch e.Kind {
		case plant.FanEvent, plant.GateEvent, plant.PortEvent:
		default:
			continue
		}
		if t.fan && e.At-since >= transient+shortest {
			out = append(out, stretch{t.set(), since, e.At})
		}
		since = e.At
		switch e.Kind {
		case plant.FanEvent:
			t.fan = e.On
		case plant.GateEvent:
			t.now.Open[e.Name] = e.On
		case plant.PortEvent:
			t.now.Port[e.Name] = int(e.Value)
		}
	}
	return out
}

// set numbers the setting that stands.
func (t *tracer) set() int {
	var names []string
	for g, open := range t.now.Open {
		if open {
			names = append(names, g)
		}
	}
	for s, port := range t.now.Port {
		if port > 0 {
			names = append(names, fmt.Sprintf("%s=%d", s, port))
		}
	}
	sort.Strings(names)
	key := strings.Join(names, "\n")
	i, ok := t.settings[key]
	if !ok {
		i = len(t.sets)
		t.settings[key] = i
		set := shop.Setting{Open: map[string]bool{}, Port: map[string]int{}}
		for g, open := range t.now.Open {
			set.Open[g] = open
		}
		for s, port := range t.now.Port {
			set.Port[s] = port
		}
		t.sets = append(t.sets, set)
	}
	return i
}
