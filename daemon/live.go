package daemon

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"time"

	"golang.org/x/sync/errgroup"

	"ductward/hardware"
)

// live samples in real time: one goroutine a group of wires, one for what is published to the shop, one for beats.
type live struct {
	sampler  *sampler
	set      *hardware.Set
	channels map[string]*channel
	world    World
	turns    atomic.Uint64
	moving   sync.Mutex // held while the world moves, and while a poller reads from it
}

// run samples until the context is done.
func (l *live) run(ctx context.Context) error {
	g, ctx := errgroup.WithContext(ctx)
	for _, own := range l.sampler.groups {
		g.Go(func() error { return l.group(ctx, own) })
	}
	g.Go(func() error { return l.pushed(ctx) })
	g.Go(func() error { return l.beats(ctx) })
	g.Go(func() error {
		err := l.set.Run(ctx)
		if ctx.Err() != nil && (err == nil || errors.Is(err, context.Canceled)) {
			return nil
		}
		return err
	})
	return g.Wait()
}

// group reads the probes of one group as they fall due.
func (l *live) group(ctx context.Context, g *group) error {
	clk := l.sampler.in.clk
	for {
		next := l.step(g, clk.Mono())
		l.sampler.in.ring()
		if clk.Wait(ctx, next-clk.Mono()) != nil {
			return nil
		}
	}
}

func (l *live) step(g *group, mono time.Duration) time.Duration {
	if l.world != nil {
		l.moving.Lock()
		defer l.moving.Unlock()
		l.world.Advance(mono)
	}
	l.sampler.start(g, mono)
	return l.sampler.step(g, mono, false)
}

// pushed takes what others publish.
func (l *live) pushed(ctx context.Context) error {
	for {
		select {
		case r := <-l.set.Pushed():
			if c := l.channels[r.Channel]; c != nil {
				l.sampler.push(c, r)
			}
		case <-ctx.Done():
			return nil
		}
	}
}

// beats records the switches from time to time, and looks for published channels that have gone silent.
func (l *live) beats(ctx context.Context) error {
	s := l.sampler
	silent := map[string]*health{}
	polled := map[string]bool{}
	for _, g := range s.groups {
		for _, p := range g.probes {
			polled[p.channel.name] = true
		}
	}
	for {
		mono := s.in.clk.Mono()
		s.in.beatIfDue(mono)
		l.silence(mono, silent, polled)
		s.in.ring()
		l.turns.Add(1)
		if s.in.clk.Wait(ctx, s.pace.housekeeping) != nil {
			return nil
		}
	}
}

// silence tells of published channels that have no value, and of those that have one again.
func (l *live) silence(mono time.Duration, silent map[string]*health, polled map[string]bool) {
	s := l.sampler
	failing := map[string]bool{}
	for _, f := range l.set.Faults() {
		if polled[f.Channel] {
			continue
		}
		h := silent[f.Channel]
		if h == nil {
			h = &health{badSince: -1, goodSince: -1}
			silent[f.Channel] = h
		}
		failing[f.Channel] = true
		if code, text := codeOf(f); h.failed(mono, code, s.pace.faultAfter) {
			s.in.tell(fault{channel: f.Channel, code: code, text: text})
		}
	}
	for name, h := range silent {
		if !failing[name] && h.good(mono, s.pace.soundAfter) {
			s.in.tell(fault{channel: name})
		}
	}
}
