package watch

import (
	"math"
	"sort"
	"time"

	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/steady"
)

// health follows the sensors of one collector as their readings show them.
type health struct {
	collector string
	by        map[string]*Sensor
	order     []string
}

// newHealth returns the health of sensors of which nothing is known.
func newHealth(c *shop.Collector) *health {
	h := &health{collector: c.Name, by: map[string]*Sensor{}}
	for _, s := range c.Sensors {
		ch := c.Name + "/" + s.Name
		h.by[ch] = &Sensor{Channel: ch, Value: math.NaN(), Noise: math.NaN(), Zero: math.NaN()}
		h.order = append(h.order, ch)
	}
	for _, ch := range switches(c) {
		h.by[ch] = &Sensor{Channel: ch, Value: math.NaN(), Noise: math.NaN(), Zero: math.NaN()}
		h.order = append(h.order, ch)
	}
	sort.Strings(h.order)
	return h
}

// switches lists the channels of the switches that have a source.
func switches(c *shop.Collector) []string {
	var out []string
	if c.FanSwitch != nil {
		out = append(out, c.Name+"/fan")
	}
	for _, g := range c.Gates {
		if g.Position != nil {
			out = append(out, "gate/"+g.Name)
		}
	}
	for _, s := range c.Selectors {
		if s.Position != nil {
			out = append(out, "selector/"+s.Name)
		}
	}
	for _, x := range c.Contacts {
		out = append(out, shop.ContactChannel(x.Name))
	}
	return out
}

func (h *health) has(channel string) bool { return h.by[channel] != nil }

// reading keeps the last value. One that comes late is not the last.
func (h *health) reading(r *reading.Reading) {
	if s := h.by[r.Channel]; s != nil && r.Quality != reading.Late {
		s.Value = r.Value
		if !r.Time.IsZero() {
			s.At = r.Time
		}
	}
}

// run keeps the noise of the last steady run and the zeros.
func (h *health) run(r *steady.Run) {
	if r.Kind == steady.Contact {
		return
	}
	for _, c := range r.Channels {
		if s := h.by[c.Channel]; s != nil && r.Kind != steady.Zero {
			s.Noise = c.SD
		}
	}
}

func (h *health) fault(channel, text string, at time.Time) {
	s := h.by[channel]
	if s.Fault == "" {
		s.Since = at
	}
	s.Fault = text
	s.Value = math.NaN()
}

func (h *health) cleared(channel string) {
	s := h.by[channel]
	s.Fault, s.Since = "", time.Time{}
}

// sensors returns the health of each sensor, zero-corrected, by channel.
func (h *health) sensors(zeros map[string]steady.Zeroing) []Sensor {
	out := make([]Sensor, 0, len(h.order))
	for _, ch := range h.order {
		s := *h.by[ch]
		if z, ok := zeros[ch]; ok {
			s.Value -= z.Value
			s.Zero, s.ZeroAt = z.Value, z.At
		}
		out = append(out, s)
	}
	return out
}

// noise returns the noise of the last steady run, by channel.
func (h *health) noise() map[string]float64 {
	out := make(map[string]float64, len(h.by))
	for ch, s := range h.by {
		out[ch] = s.Noise
	}
	return out
}

// setNoise puts it back.
func (h *health) setNoise(by map[string]float64) {
	for ch, noise := range by {
		if s := h.by[ch]; s != nil {
			s.Noise = noise
		}
	}
}
