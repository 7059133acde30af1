package daemon

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"ductward/internal/alarm"
	"ductward/internal/clock"
	"ductward/internal/deliver"
	"ductward/internal/diagnosis"
	"ductward/internal/finding"
	"ductward/internal/letter"
	"ductward/internal/outbox"
	"ductward/internal/shop"
)

// teller brings letters to the targets of the shop file, one goroutine a target, so that none waits for another.
type teller struct {
	shop    *shop.Shop
	clk     clock.Clock
	log     *slog.Logger
	pace    pace
	boot    uint32
	box     *outbox.Box
	targets []*deliver.Target
	storing trouble
	trying  map[string]*trouble
}

// newTeller returns nil where the shop file names nobody to tell and no broker: what is published of alarms waits in the
// same outbox.
func newTeller(c *Config, k keeper, boot uint32) (*teller, error) {
	o := &c.Shop.Outbound
	targets, err := deliver.Targets(o)
	if err != nil {
		return nil, err
	}
	names := o.Targets()
	if o.MQTT != nil {
		names = append(names, brokerTarget)
	}
	if len(names) == 0 {
		return nil, nil
	}
	t := &teller{shop: c.Shop, clk: c.Clock, log: c.Log, pace: c.pace, boot: boot, targets: targets,
		storing: trouble{what: "storing the outbox", log: c.Log}, trying: map[string]*trouble{}}
	for _, x := range targets {
		t.trying[x.Name] = &trouble{what: "telling " + x.Name, log: c.Log}
	}
	opt := outbox.DefaultOptions()
	opt.First, opt.Most = c.pace.tellFirst, c.pace.tellMost
	if o.GiveUp > 0 {
		opt.GiveUp = o.GiveUp
	}
	t.box, err = outbox.New(k, names, t.clk.Now(), opt)
	_ = t.storing.see(t.clk.Mono(), err) // it was told; what cannot be read is left out
	return t, nil
}

// origin is where letters of this moment come from.
func (t *teller) origin() letter.Origin {
	return letter.Origin{Shop: t.shop.Name, Boot: t.boot, At: t.clk.Now(), To: t.shop.Outbound.Targets(), Zone: t.shop.Site.Location}
}

// alarms puts a letter for what happened to alarms into the outbox. What was put before is not put again, so that a start
// may give it all that stand. It is called before the alarms are stored: a power cut between makes a letter twice, which
// the outbox drops, and never one too few.
func (t *teller) alarms(changed []alarm.Alarm) {
	var letters []outbox.Letter
	for i := range changed {
		if letter.Tells(&changed[i]) {
			letters = append(letters, letter.OfAlarm(t.origin(), changed[i]))
		}
	}
	if len(letters) > 0 {
		t.put(letters)
	}
}

func (t *teller) put(letters []outbox.Letter) {
	_ = t.storing.see(t.clk.Mono(), t.box.Put(letters, t.shop.Outbound.Targets()...)) // it was logged; they go out all the same
}

// run delivers until the context is done. What is left then is stored, and goes on at the next start.
func (t *teller) run(ctx context.Context) error {
	var all sync.WaitGroup
	for _, target := range t.targets {
		all.Go(func() { t.serve(ctx, target) })
	}
	all.Wait()
	<-ctx.Done() // where there is only a broker, nobody was waited for
	return nil
}

// serve brings letters to one target.
func (t *teller) serve(ctx context.Context, to *deliver.Target) {
	for ctx.Err() == nil {
		mono := t.clk.Mono()
		calm, quiet := t.quiet()
		it, wait, ok := t.box.Next(to.Name, mono, quiet, calm)
		if !ok {
			t.rest(ctx, to.Name, wait)
			continue
		}
		err := to.Send(ctx, &it)
		if ctx.Err() != nil && err != nil {
			return // it was cut off, and says nothing of the target
		}
		t.note(to.Name, &it, err)
	}
}

// note notes how an attempt went.
func (t *teller) note(target string, it *outbox.Item, err error) {
	mono, now := t.clk.Mono(), t.clk.Now()
	if err == nil || errors.Is(err, outbox.ErrRefused) {
		_ = t.trying[target].see(mono, nil)
	} else {
		_ = t.trying[target].see(mono, err) // logged there
	}
	var stored error
	switch {
	case err == nil:
		t.log.Info("told", "target", target, "letter", it.Letter.ID)
		stored = t.box.Sent(it.Number, now)
	default:
		if errors.Is(err, outbox.ErrRefused) {
			t.log.Error("a letter is refused for good", "target", target, "letter", it.Letter.ID, "err", err)
		}
		stored = t.box.Failed(it.Number, mono, now, err)
	}
	_ = t.storing.see(mono, stored) // logged there
}

// sent notes that the broker has taken how an alarm stands.
func (t *teller) sent(it *outbox.Item) {
	_ = t.storing.see(t.clk.Mono(), t.box.Sent(it.Number, t.clk.Now())) // logged there
}

// quiet tells whether quiet hours hold, and for how long. While the clock is not trusted nobody knows, and nothing is held
// back.
func (t *teller) quiet() (time.Duration, bool) {
	if !t.clk.Trusted() {
		return 0, false
	}
	now := t.clk.Now()
	until, quiet := t.shop.Outbound.Quiet.Until(now.In(t.shop.Site.Location))
	return until.Sub(now), quiet
}

// rest waits until there may be something to do: not longer than a clock needs that may be set meanwhile.
func (t *teller) rest(ctx context.Context, target string, wait time.Duration) {
	if wait <= 0 || wait > t.pace.retryMost {
		wait = t.pace.retryMost
	}
	timer := time.NewTimer(max(wait, t.pace.housekeeping))
	defer timer.Stop()
	select {
	case <-t.box.Wake(target):
	case <-timer.C:
	case <-ctx.Done():
	}
}

// findings are what stands in the way of telling people.
func (t *teller) findings(mono time.Duration, civil func(time.Duration) time.Time, boot uint32) (out []finding.Finding) {
	if t == nil {
		return nil
	}
	for _, s := range t.box.Status() {
		if s.Failures == 0 || mono-s.Since < t.pace.tellFailing {
			continue
		}
		since := civil(s.Since)
		out = append(out, finding.Finding{
			ID:       fmt.Sprintf("%s.%s.%d.%d", finding.DeliveryFailing, s.Target, boot, int64(s.Since.Seconds())),
			Kind:     finding.DeliveryFailing,
			Subject:  s.Target,
			Priority: finding.Instrument,
			Raised:   since,
			Onset:    since,
			Text:     fmt.Sprintf("%s cannot be told: %s.", s.Target, s.Problem),
			Action:   diagnosis.Of(finding.DeliveryFailing).Action(s.Target),
		})
	}
	return out
}
