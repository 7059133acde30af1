package live

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"math"
	"slices"
	"sync"
	"time"

	"ductward/hardware"
	"ductward/internal/clock"
	"ductward/internal/reading"
	"ductward/internal/shop"
)

// rundown is how long after a fan was seen to stop its pressures are no zero yet: the wheel runs on, and 60 s are common
// practice (no source).
const rundown = 60 * time.Second

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

// For watches for a time, in which look is called after each beat unless it is nil. It returns early with the context's
// error, and else nil. A bus that hangs is left behind and delays nobody.
func (w *Watch) For(ctx context.Context, d time.Duration, look func()) error {
	ctx, cancel := context.WithCancel(ctx)
	listening := make(chan error, 1)
	go func() { listening <- w.set.Run(ctx) }()
	err := w.beats(ctx, d, look)
	cancel()
	if e := <-listening; err == nil && !errors.Is(e, context.Canceled) {
		err = e
	}
	return err
}

func (w *Watch) beats(ctx context.Context, d time.Duration, look func()) error {
	for end := w.clock.Mono() + d; ; {
		began := w.clock.Mono()
		w.beat()
		if look != nil {
			look()
		}
		if w.clock.Mono() >= end {
			return ctx.Err()
		}
		if err := w.clock.Wait(ctx, Beat-(w.clock.Mono()-began)); err != nil {
			return err
		}
	}
}

// patience is how long a beat waits for the groups that it reads: longer than a transfer that hangs takes to be given up.
// It is waited in full once a hang, since a group that is still being read is passed over.
const patience = 2 * time.Second

// beat reads every group once that is not still being read, and waits for them for a while.
func (w *Watch) beat() {
	late := time.NewTimer(w.patience)
	defer late.Stop()
	begun := map[string]<-chan struct{}{}
	for _, g := range w.set.Groups() {
		if done := w.begin(g.Bus); done != nil {
			begun[g.Bus] = done
			go w.read(g, done)
		}
	}
	over := false
	for bus, done := range begun {
		over = over || !waitFor(done, late.C)
		if over && !isDone(done) {
			w.hang(bus)
		}
	}
	w.takePushed()
}

// waitFor waits until something is done, or the time is over, and then returns false.
func waitFor(done <-chan struct{}, over <-chan time.Time) bool {
	select {
	case <-done:
		return true
	case <-over:
		return false
	}
}

func isDone(done <-chan struct{}) bool {
	select {
	case <-done:
		return true
	default:
		return false
	}
}

// begin notes that a group is being read; nil: it still is.
func (w *Watch) begin(bus string) chan struct{} {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.busy[bus] != nil {
		return nil
	}
	w.busy[bus] = make(chan struct{})
	return w.busy[bus]
}

var errHangs = errors.New("its wires have not answered, and are left behind: nothing on them can be read")

// hang tells of a group that does not come back: no number of before stands for what cannot be read.
func (w *Watch) hang(bus string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, g := range w.set.Groups() {
		if g.Bus != bus {
			continue
		}
		for _, p := range g.Pollers {
			r := w.by[p.Channel()]
			r.lose(&hardware.Fault{Code: hardware.BusLocked, Channel: r.channel, Where: r.where, Remedy: hardware.BusLocked.Remedy(), Since: w.clock.Mono(), Err: errHangs})
		}
	}
}

// read reads the pollers of one group.
func (w *Watch) read(g hardware.Group, done chan struct{}) {
	defer close(done)
	for _, p := range g.Pollers {
		v, q, err := p.Read()
		raw := ""
		if d, ok := p.(hardware.Detail); ok {
			raw = d.Raw()
		}
		w.note(p.Channel(), raw, v, q, err)
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	delete(w.busy, g.Bus)
}

func (w *Watch) note(channel, raw string, v float64, q reading.Quality, err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	r := w.by[channel]
	r.raw = raw
	var f *hardware.Fault
	switch {
	case errors.As(err, &f):
		r.lose(f)
	case err != nil:
		r.lose(&hardware.Fault{Code: hardware.ChipError, Channel: channel, Where: r.where, Err: err})
	default:
		w.heard(r, v, q)
	}
}

// heard takes a value; the lock is held.
func (w *Watch) heard(r *row, v float64, q reading.Quality) {
	if r.sensor != nil && r.sensor.Measures == shop.BarometricPressure {
		w.set.SetAmbient(v)
	}
	if r.channel == r.collector.FanChannel() {
		w.hearFan(r, v)
	}
	r.take(v, q, w.atRest(r.collector))
}

// hearFan notes since when a fan stands.
func (w *Watch) hearFan(r *row, v float64) {
	name := r.collector.Name
	switch _, known := w.stood[name]; {
	case v != 0:
		delete(w.stood, name)
	case !known && math.IsNaN(r.value):
		w.stood[name] = -1
	case !known:
		w.stood[name] = w.clock.Mono()
	}
}

// atRest tells whether a collector's fan is known to have come to rest.
func (w *Watch) atRest(c *shop.Collector) bool {
	if w.said != Unknown {
		return w.said == Standing
	}
	since, standing := w.stood[c.Name]
	return standing && (since < 0 || w.clock.Mono()-since >= rundown)
}

// takePushed takes what was published, and the faults of what was not.
func (w *Watch) takePushed() {
	w.mu.Lock()
	defer w.mu.Unlock()
	for more := true; more; {
		select {
		case r := <-w.set.Pushed():
			w.heard(w.by[r.Channel], r.Value, r.Quality)
		default:
			more = false
		}
	}
	for _, f := range w.set.Faults() {
		if r := w.by[f.Channel]; r.fault == nil && r.source.Kind == shop.SourceMQTT {
			r.lose(f)
		}
	}
}

// Fan tells what is known of a collector's fan.
func (w *Watch) Fan(collector string) Fan {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.fan(collector)
}

func (w *Watch) fan(collector string) Fan {
	if w.said != Unknown {
		return w.said
	}
	r := w.by[collector+"/fan"]
	switch {
	case r == nil || r.fault != nil || math.IsNaN(r.value):
		return Unknown
	case r.value != 0:
		return Running
	}
	return Standing
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
