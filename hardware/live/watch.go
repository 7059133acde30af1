package live

import (
	"fmt"
	"log/slog"
	"maps"
	"math"
	"slices"
	"sync"
	"time"

	"ductward/hardware"
	"ductward/internal/clock"
	"ductward/internal/shop"
)

// Watch reads every source of a shop again and again. Make it with Open and give it back with Close.
type Watch struct {
	shop  *shop.Shop
	set   *hardware.Set
	clock clock.Clock
	said  Fan // what a person says of every fan; Unknown: nothing

	patience time.Duration

	mu    sync.Mutex
	rows  []*row
	by    map[string]*row
	stood map[string]time.Duration // monotonic, since when a collector's fan is seen to stand; -1: since before the first look
	busy  map[string]chan struct{} // groups that are being read, each with what is closed when it has been
}

// Open makes the watch of a shop's sources. said is what the person says of the fans, Unknown where the fans' own
// switches are to tell.
func Open(s *shop.Shop, buses hardware.Buses, c clock.Clock, said Fan, log *slog.Logger) (*Watch, error) {
	set, err := hardware.Open(s, buses, c, log)
	if err != nil {
		return nil, err
	}
	w := &Watch{shop: s, set: set, clock: c, said: said, patience: patience, by: map[string]*row{}, stood: map[string]time.Duration{}, busy: map[string]chan struct{}{}}
	for _, col := range s.Collectors {
		w.list(col)
	}
	for _, p := range set.Pollers() {
		if d, ok := p.(hardware.Detail); ok {
			w.by[p.Channel()].where = d.Where()
		}
	}
	return w, nil
}

// list makes the rows of a collector, in the order of the shop file.
func (w *Watch) list(c *shop.Collector) {
	for _, s := range c.Sensors {
		w.add(&row{channel: c.ChannelOf(s.Name), collector: c, sensor: s, source: &s.From})
	}
	if c.FanSwitch != nil {
		w.add(&row{channel: c.FanChannel(), collector: c, source: c.FanSwitch})
	}
	for _, g := range c.Gates {
		w.add(&row{channel: shop.GateChannel(g.Name), collector: c, source: g.Position})
	}
	for _, s := range c.Selectors {
		w.add(&row{channel: shop.SelectorChannel(s.Name), collector: c, source: s.Position})
	}
	for _, x := range c.Contacts {
		w.add(&row{channel: shop.ContactChannel(x.Name), collector: c, source: x.From})
	}
}

func (w *Watch) add(r *row) {
	r.value = math.NaN()
	if r.source != nil {
		r.byHand = r.source.Kind == shop.SourceByHand
		if r.source.Kind == shop.SourceMQTT {
			r.where = fmt.Sprintf("mqtt topic %q", r.source.Topic)
		}
	}
	w.rows, w.by[r.channel] = append(w.rows, r), r
}

// Say states from now on how the fans stand; Unknown leaves it to their switches. What was seen before is forgotten.
func (w *Watch) Say(f Fan) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.said = f
	for _, r := range w.rows {
		r.forget()
	}
}

// Rows tells how every channel does now, in the order of the shop file.
func (w *Watch) Rows() []Row {
	w.mu.Lock()
	defer w.mu.Unlock()
	out := make([]Row, len(w.rows))
	for i, r := range w.rows {
		out[i] = r.show(w.fan(r.collector.Name))
	}
	return out
}

// Close waits for what is being read, for a while, and leaves the chips idle. What hangs is left behind with its chips, which
// nobody may touch meanwhile. The buses stay open: they are their owner's.
func (w *Watch) Close() error {
	late := time.NewTimer(w.patience)
	defer late.Stop()
	w.mu.Lock()
	reads := slices.Collect(maps.Values(w.busy))
	w.mu.Unlock()
	for _, done := range reads {
		if !waitFor(done, late.C) {
			return nil
		}
	}
	return w.set.Close()
}
