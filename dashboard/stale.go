package dashboard

import (
	"time"

	"ductward/internal/reading"
	"ductward/internal/watch"
)

// minStale is the least age at which readings count as old.
const minStale = time.Minute

// newest is the time of the newest reading of a collector's sensors.
func (s *server) newest(c *watch.Collector, latest map[string]reading.Reading) time.Time {
	var at time.Time
	for _, x := range c.Sensors {
		if s.isSwitch(x.Channel) { // a gate that moves says nothing of the pressures
			continue
		}
		if x.At.After(at) {
			at = x.At
		}
		if r, ok := latest[x.Channel]; ok && r.Time.After(at) {
			at = r.Time
		}
	}
	return at
}

// isSwitch tells whether a channel is a gate, a selector or the fan: it speaks only when it moves.
func (s *server) isSwitch(name string) bool {
	c, ok := s.channel(name)
	return ok && c.measure == switchMeasure
}

// staleAfter is the age at which the readings of a collector are old: five of its longest intervals missed.
func (s *server) staleAfter(collector string) time.Duration {
	limit := minStale
	for _, c := range s.Shop.Collectors {
		if c.Name != collector {
			continue
		}
		for _, x := range c.Sensors {
			limit = max(limit, 5*x.Interval)
		}
	}
	return limit
}
