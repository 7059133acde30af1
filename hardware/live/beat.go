package live

import (
	"context"
	"errors"
	"time"

	"ductward/hardware"
)

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
