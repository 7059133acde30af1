package daemon

import (
	"context"
	"errors"
	"fmt"
	"net"
	"sync"
	"sync/atomic"

	"ductward/hardware"
	"ductward/internal/alarm"
	"ductward/internal/store"
)

// Daemon is the always-on watch over one shop.
type Daemon struct {
	cfg Config

	mu   sync.Mutex // one of Run, History and Close at a time
	open *session   // left open by History for Run

	running atomic.Pointer[session] // while Run runs; nil otherwise
}

// session is everything that is open between start and stop.
type session struct {
	store    keeper
	set      *hardware.Set
	channels map[string]*channel
	in       *intake
	sampler  *sampler
	fold     *fold
	owed     error // of the boot, where the card took nothing at the start
}

// New checks the configuration. It opens nothing.
func New(cfg Config) (*Daemon, error) {
	if err := cfg.complete(); err != nil {
		return nil, err
	}
	return &Daemon{cfg: cfg}, nil
}

// Run watches until the context is done or a part fails. It returns nil after a clean stop, in which nothing that was
// read has been lost.
func (d *Daemon) Run(ctx context.Context) (err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	spareMemory()
	// Listen before anything is begun, so that a port in use stops the start and not the watch.
	var listener net.Listener
	if d.cfg.Listen != "" {
		if listener, err = (&net.ListenConfig{}).Listen(ctx, "tcp", d.cfg.Listen); err != nil {
			return errors.Join(fmt.Errorf("dashboard: listen on %q: %w: stop what uses it, or choose another port", d.cfg.Listen, err), d.close())
		}
		defer listener.Close() // the server has closed it, unless it never began
	}
	s, err := d.session()
	if err != nil {
		return err
	}
	d.running.Store(s)
	defer d.running.Store(nil)
	parts, err := d.parts(s, listener)
	if err != nil {
		return errors.Join(err, d.close())
	}
	err = runParts(ctx, parts, d.cfg.Log)
	d.running.Store(nil)
	d.open = nil
	return errors.Join(err, s.close())
}

// parts lists what runs, in the reverse order of stopping.
func (d *Daemon) parts(s *session, listener net.Listener) ([]part, error) {
	s.fold.known = d.cfg.Known
	care := newUpkeep(s.store, d.cfg.Clock, d.cfg.Log, s.fold.tell)
	parts := []part{{"upkeep", care.run}}
	tells, err := newTeller(&d.cfg, s.store, s.fold.in.boot)
	if err != nil {
		return nil, err
	}
	s.fold.tells = tells
	if m := d.cfg.Shop.Outbound.MQTT; m != nil {
		out, err := newOutward(d.cfg.Shop, s.store, tells, d.cfg.pace, d.cfg.Log)
		if err != nil {
			return nil, err
		}
		out.alarms(s.fold.alarms.Standing())
		s.fold.out = out
		parts = append(parts, part{"publishing", out.run})
	}
	if tells != nil {
		tells.alarms(s.fold.alarms.Standing())
		calendar := &clerk{teller: tells, fold: s.fold, since: s.fold.civil(d.cfg.Clock.Mono())}
		parts = append(parts, part{"telling", tells.run}, part{"calendar", calendar.run})
	}
	if listener != nil {
		site, err := newSite(&d.cfg, s, listener)
		if err != nil {
			return nil, err
		}
		parts = append(parts, part{"dashboard", site.run})
	}
	if handing, err := newCopies(d.cfg.DataDir, s.store, d.cfg.Log); err == nil {
		parts = append(parts, part{"copies", handing.run})
	} else {
		d.cfg.Log.Warn("no copy of the store can be had while this runs", "err", err)
	}
	live := &live{sampler: s.sampler, set: s.set, channels: s.channels, world: d.cfg.World}
	parts = append(parts, part{"fold", s.fold.run}, part{"sampling", live.run})
	if d.cfg.Pulse.Every > 0 {
		p := &pulse{Pulse: d.cfg.Pulse, fold: s.fold, beats: &live.turns, url: ownURL(listener, d.cfg.TLS), clock: d.cfg.Clock, log: d.cfg.Log}
		parts = append(parts, part{"pulse", p.run})
	}
	return parts, nil
}

// Close ends what History left open. Run does so by itself.
func (d *Daemon) Close() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.close()
}

func (d *Daemon) close() error {
	s := d.open
	d.open = nil
	if s == nil {
		return nil
	}
	return errors.Join(s.fold.finish(), s.close())
}

// session returns the open session, or opens one.
func (d *Daemon) session() (*session, error) {
	if d.open != nil {
		return d.open, nil
	}
	s := &session{}
	if err := d.fill(s); err != nil {
		return nil, errors.Join(err, s.close())
	}
	d.open = s
	return s, nil
}

// fill opens the parts of a session in order of use.
func (d *Daemon) fill(s *session) (err error) {
	c := &d.cfg
	if s.store, err = c.openStore(); err != nil {
		return err
	}
	boot, err := s.store.NewBoot()
	if errors.Is(err, store.ErrOwed) { // a card that is full stops neither reading nor alarming
		c.Log.Error("the card takes nothing: what is read is held in memory", "err", err)
		s.owed = err
	} else if err != nil {
		return err
	}
	var fans []*fan
	s.channels, fans = channelsOf(c.Shop)
	s.in = newIntake(c.Clock, boot, s.channels)
	if s.set, err = hardware.Open(c.Shop, c.Buses, c.Clock, c.Log); err != nil {
		return err
	}
	if s.sampler, err = newSampler(s.set.Groups(), s.channels, s.in, c.pace, c.Log); err != nil {
		return err
	}
	s.sampler.ambient = s.set.SetAmbient
	return d.fillFold(s, fans)
}

func (d *Daemon) fillFold(s *session, fans []*fan) error {
	c := &d.cfg
	alarms, err := s.store.Alarms()
	var damage *store.DamageError
	if errors.As(err, &damage) {
		c.Log.Error("alarms that cannot be read are left out", "err", err)
	} else if err != nil {
		return err
	}
	s.fold = newFold(c, s, fans, alarm.NewManager(alarms, c.Alarms))
	for i := range alarms {
		s.fold.changes[alarms[i].ID] = alarms[i].Changes
	}
	mono := c.Clock.Mono()
	if s.owed != nil {
		_ = s.fold.committing.see(mono, s.owed) // it was told; from now on it stands until a commit succeeds
	}
	s.fold.place(mono)
	s.fold.shopFrom = s.fold.civil(mono)
	_ = s.fold.putShop(mono) // it was told, and is tried again after the next commit
	for _, n := range s.store.Notices() {
		s.fold.tell(n)
	}
	s.carryOver()
	return nil
}

// ready waits until the watch has been made from what is stored, for those who have nothing to do meanwhile.
func (s *session) ready(ctx context.Context) error {
	if s.fold.watch != nil {
		return nil
	}
	s.fold.build()
	select {
	case b := <-s.fold.building.result():
		return s.fold.adopt(b)
	case <-ctx.Done():
		s.fold.building.giveUp()
		s.fold.building = nil
		return ctx.Err()
	}
}

// carryOver records again, in the new boot, where a person last said that a gate, a selector or a fan stands.
func (s *session) carryOver() {
	latest := s.store.Latest()
	for _, c := range s.in.switches {
		if r, ok := latest[c.name]; ok && c.byHand {
			carried := single(r.Value)
			carried.Quality = r.Quality
			s.in.take(c, carried)
		}
	}
}

// close ends the session in reverse order of use. The store comes last: closing it commits.
func (s *session) close() error {
	var errs []error
	if s.set != nil {
		errs = append(errs, s.set.Close())
	}
	if s.store != nil {
		errs = append(errs, s.store.Close())
	}
	return errors.Join(errs...)
}

func (c *Config) openStore() (keeper, error) {
	if c.store != nil {
		return c.store(c.DataDir)
	}
	s, err := store.Open(c.DataDir, store.Options{KeepRaw: c.KeepRaw})
	if err != nil {
		return nil, err
	}
	for _, n := range s.Notices() {
		c.Log.Warn("store", "notice", n.Text)
	}
	return s, nil
}
