package live

import (
	"math"

	"ductward/internal/shop"
)

// Setting tells how everything that moves in a collector stands now, and names what nobody knows of.
func (w *Watch) Setting(c *shop.Collector) (st shop.Setting, unknown []string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	st = shop.Setting{Open: map[string]bool{}, Port: map[string]int{}}
	for _, g := range c.Gates {
		if v := w.by[shop.GateChannel(g.Name)].value; math.IsNaN(v) {
			unknown = append(unknown, "gate "+g.Name)
		} else {
			st.Open[g.Name] = v != 0
		}
	}
	for _, s := range c.Selectors {
		if v := w.by[shop.SelectorChannel(s.Name)].value; math.IsNaN(v) {
			unknown = append(unknown, "selector "+s.Name)
		} else {
			st.Port[s.Name] = int(v)
		}
	}
	return st, unknown
}

// Means returns what the sensors of a collector read, by channel: the mean of the last samples.
func (w *Watch) Means(c *shop.Collector) map[string]float64 {
	w.mu.Lock()
	defer w.mu.Unlock()
	read := map[string]float64{}
	for _, s := range c.Sensors {
		if r := w.by[c.ChannelOf(s.Name)]; r.seen > 0 {
			read[r.channel], _, _ = r.spread()
		}
	}
	return read
}
