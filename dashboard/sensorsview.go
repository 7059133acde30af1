package dashboard

import (
	"fmt"
	"strings"

	"ductward/internal/finding"
	"ductward/internal/reading"
	"ductward/internal/watch"
)

// sensorsBody is the content of the sensors page.
type sensorsBody struct {
	Sentence string
	Rows     []sensorRow
	Switches []sensorRow // gates, selectors and the fan
}

// sensorRow is the health of one sensor.
type sensorRow struct {
	Name, Measures, Value, At, Noise, Zero, ZeroAt, Health, Since string
	Drift                                                         string // how often its zero has moved, and by how much last
	Sound                                                         bool
	History                                                       string // address of its record
}

// sensorsView tells which sensors can be trusted.
func (s *server) sensorsView(rq *request) (any, error) {
	b := sensorsBody{Sentence: "No sensor has been heard of yet."}
	if rq.snap == nil {
		return b, nil
	}
	latest := s.Readings.Latest()
	var bad []string
	for i := range rq.snap.Collectors {
		c := &rq.snap.Collectors[i]
		for _, x := range c.Sensors {
			ch, _ := s.channel(x.Channel)
			x = s.heard(rq, c, x, latest)
			row := sensorRow{Name: x.Channel, Measures: ch.words, Value: ch.show(x.Value), At: s.moment(x.At, rq.now),
				Noise: ch.showSpan(x.Noise), Zero: ch.showSpan(x.Zero), ZeroAt: s.moment(x.ZeroAt, rq.now), Health: "sound",
				Sound: x.Fault == "", History: "/history?ch=" + queryEscape(x.Channel)}
			if x.ZeroAt.IsZero() {
				row.Zero, row.ZeroAt = "never taken", ""
			}
			if moves := zeroMoves(c, x.Channel); len(moves) > 0 {
				last := moves[len(moves)-1]
				row.Drift = "moved " + plural(len(moves), "once", fmt.Sprintf("%d times", len(moves))) + ", last by " + ch.showSpan(last.Size) + ", " + s.day(last.Raised, rq.now)
			}
			if x.Fault != "" {
				row.Health = x.Fault
				bad = append(bad, x.Channel)
			}
			if !x.Since.IsZero() {
				row.Since = s.moment(x.Since, rq.now)
			}
			if ch.measure == switchMeasure {
				row.Value = switchText(x.Channel, x.Value)
				b.Switches = append(b.Switches, row)
				continue
			}
			b.Rows = append(b.Rows, row)
		}
	}
	b.Sentence = sensorsSentence(len(b.Rows)+len(b.Switches), bad)
	return b, nil
}

// zeroMoves are the findings that a sensor's zero had moved, oldest first.
func zeroMoves(c *watch.Collector, channel string) (out []*finding.Finding) {
	for i := range c.Findings {
		if f := &c.Findings[i]; f.Kind == finding.SensorZero && f.Subject == channel {
			out = append(out, f)
		}
	}
	return out
}

// heard is a sensor with its latest reading, which may be newer than what the watch knows of it; one that should have spoken
// since is silent.
func (s *server) heard(rq *request, c *watch.Collector, x watch.Sensor, latest map[string]reading.Reading) watch.Sensor {
	if r, ok := latest[x.Channel]; ok && r.Time.After(x.At) {
		x.Value, x.At = r.Value, r.Time
	}
	if x.Fault == "" && !s.isSwitch(x.Channel) && (x.At.IsZero() || rq.now.Sub(x.At) > s.staleAfter(c.Name)) {
		x.Fault, x.Since = "silent", x.At
	}
	return x
}

// switchText says how a switch stands.
func switchText(channel string, v float64) string {
	words := [2]string{"shut", "open"}
	switch {
	case !known(v):
		return unknown
	case strings.HasPrefix(channel, "selector/") && v == 0:
		return "on no port"
	case strings.HasPrefix(channel, "selector/"):
		return fmt.Sprintf("port %.0f", v)
	case strings.HasPrefix(channel, "contact/"):
		words = [2]string{"at rest", "closed"}
	case !strings.HasPrefix(channel, "gate/"):
		words = [2]string{"off", "on"}
	}
	if v != 0 {
		return words[1]
	}
	return words[0]
}

// sensorsSentence says which sensors are not to be trusted.
func sensorsSentence(n int, bad []string) string {
	switch {
	case n == 0:
		return "The shop file names no sensor."
	case len(bad) == 0:
		return capital(plural(n, "the one sensor is sound.", fmt.Sprintf("all %d sensors are sound.", n)))
	case len(bad) == n:
		return "No sensor can be trusted, so nothing can be told of the plant."
	}
	return "Not to be trusted: " + sentenceList(bad) + ". The others are sound."
}

// show writes a value of the channel in the unit that is shown.
func (c channel) show(v float64) string {
	if !known(v) {
		return unknown
	}
	return join(plain(v*c.factor+c.offset), c.unit)
}

// showSpan writes a difference of values of the channel, such as a noise or a zero.
func (c channel) showSpan(v float64) string {
	if !known(v) {
		return unknown
	}
	return join(minus(fmt.Sprintf("%.2g", v*c.factor)), c.unit)
}
