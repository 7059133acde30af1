package daemon

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"slices"
	"time"

	"ductward/dashboard"
	"ductward/internal/alarm"
	"ductward/internal/journal"
	"ductward/internal/letter"
	"ductward/internal/outbox"
	"ductward/internal/watch"
)

// site serves the dashboard.
type site struct {
	server   *http.Server
	listener net.Listener
	closing  chan struct{}
	grace    time.Duration
	log      *slog.Logger
}

// pages is what the dashboard of a session works with, as it is reached at an address.
func pages(cfg *Config, s *session, at net.Addr) dashboard.Config {
	return dashboard.Config{
		Shop:     cfg.Shop,
		Watch:    view{s.fold},
		Readings: record{s.store},
		Journal:  logbook{s.fold},
		Alarms:   bell{s.fold},
		Clock:    cfg.Clock,
		Delivery: s.fold.tells.shown(),
		Gate:     cfg.Gate,
		Loopback: loopback(at),
		Names:    names(cfg.Names, at),

		Positions: positions{s},
		Log:       cfg.Log,
		Version:   cfg.Version,
	}
}

func newSite(cfg *Config, s *session, listener net.Listener) (*site, error) {
	closing := make(chan struct{})
	p := pages(cfg, s, listener.Addr())
	p.Closing = closing
	handler, err := dashboard.New(p)
	if err != nil {
		return nil, err
	}
	server := dashboard.NewServer(handler)
	server.TLSConfig = cfg.TLS
	server.ErrorLog = slog.NewLogLogger(cfg.Log.Handler(), slog.LevelDebug)
	if cfg.Listening != nil {
		cfg.Listening(listener.Addr().String())
	}
	cfg.Log.Info("dashboard", "address", scheme(cfg.TLS)+"://"+listener.Addr().String())
	return &site{server: server, listener: listener, closing: closing, grace: cfg.pace.shutdown, log: cfg.Log}, nil
}

// run serves until the context is done, then lets open requests end within the grace.
func (s *site) run(ctx context.Context) error {
	failed := make(chan error, 1)
	go func() { failed <- s.serve() }()
	select {
	case err := <-failed:
		return fmt.Errorf("serve %s: %w", s.listener.Addr(), err)
	case <-ctx.Done():
	}
	close(s.closing)
	grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), s.grace)
	defer cancel()
	err := s.server.Shutdown(grace)
	if errors.Is(err, context.DeadlineExceeded) {
		s.log.Warn("requests that did not end were cut off", "after", s.grace)
		err = s.server.Close()
	}
	<-failed // http.ErrServerClosed
	return err
}

func (s *site) serve() error {
	if s.server.TLSConfig != nil {
		return s.server.ServeTLS(s.listener, "", "") // the configuration has the certificate
	}
	return s.server.Serve(s.listener)
}

// scheme is how the dashboard's address begins.
func scheme(conf *tls.Config) string {
	if conf != nil {
		return "https"
	}
	return "http"
}

// loopback tells whether no other machine reaches an address.
func loopback(a net.Addr) bool {
	t, ok := a.(*net.TCPAddr)
	return ok && t.IP.IsLoopback()
}

// names are those by which the dashboard is reached: what the owner gave, and what the machine calls itself where others
// reach it. One that alone reaches it says localhost.
func names(given []string, at net.Addr) []string {
	if own, err := os.Hostname(); err == nil && !loopback(at) {
		return append(slices.Clone(given), own)
	}
	return given
}

// view is the watch as the dashboard sees it.
type view struct{ f *fold }

func (v view) Snapshot() *watch.Snapshot { return v.f.snapshot.Load() }

// record is the store as the dashboard sees it.
type record struct{ keeper }

func (r record) Chart(channel string, from, to time.Time, n int) ([]dashboard.Bucket, error) {
	buckets, err := r.keeper.Chart(channel, from, to, n)
	if err != nil {
		return nil, err
	}
	out := make([]dashboard.Bucket, len(buckets))
	for i, b := range buckets {
		out[i] = dashboard.Bucket{Start: b.Start, End: b.End, Min: b.Min, Mean: b.Mean, Max: b.Max, N: b.N}
	}
	return out, nil
}

// logbook is the journal as the dashboard sees it.
type logbook struct{ f *fold }

func (l logbook) Journal() ([]journal.Entry, error) { return l.f.store.Journal() }

func (l logbook) AddJournal(e journal.Entry) (uint64, error) { return l.f.addEntry(e) }

// positions is where a person says that things stand, as the dashboard tells it.
type positions struct{ s *session }

func (p positions) SetByHand(channel string, v float64) error { return p.s.setByHand(channel, v) }

// bell is the alarms as the dashboard sees them.
type bell struct{ f *fold }

func (b bell) List() []alarm.Alarm { return b.f.alarms.List() }

// does lets a person do something with one alarm, so that it is stored when it is answered.
func (b bell) does(what, id string, do func() (alarm.Alarm, error)) (a alarm.Alarm, err error) {
	kept := b.f.change(b.f.clk.Mono(), func() []alarm.Alarm {
		if a, err = do(); err != nil {
			return nil
		}
		return []alarm.Alarm{a}
	})
	if err == nil && !kept {
		err = fmt.Errorf("alarm %q is %s, but could not be stored yet; it will be tried again", id, what)
	}
	return a, err
}

func (b bell) Acknowledge(id, by string, at time.Time) (alarm.Alarm, error) {
	return b.does("acknowledged", id, func() (alarm.Alarm, error) { return b.f.alarms.Acknowledge(id, by, at) })
}

func (b bell) Shelve(id, by, reason string, at, until time.Time, once bool) (alarm.Alarm, error) {
	return b.does("shelved", id, func() (alarm.Alarm, error) { return b.f.alarms.Shelve(id, by, reason, at, until, once) })
}

func (b bell) Unshelve(id, by string, at time.Time) (alarm.Alarm, error) {
	return b.does("off the shelf", id, func() (alarm.Alarm, error) { return b.f.alarms.Unshelve(id, by, at) })
}

func (b bell) TakeOut(id, by, reason string, at time.Time) (alarm.Alarm, error) {
	return b.does("out of service", id, func() (alarm.Alarm, error) { return b.f.alarms.TakeOut(id, by, reason, at) })
}

func (b bell) PutBack(id, by string, at time.Time) (alarm.Alarm, error) {
	return b.does("back in service", id, func() (alarm.Alarm, error) { return b.f.alarms.PutBack(id, by, at) })
}

func (b bell) Confirm(id, by, found, action string, at time.Time) (alarm.Alarm, error) {
	return b.does("confirmed", id, func() (alarm.Alarm, error) { return b.f.alarms.Confirm(id, by, found, action, at) })
}

// posting is the outbox as the dashboard sees it.
type posting struct{ t *teller }

// shown is nil where nobody is told, and nothing published.
func (t *teller) shown() dashboard.Delivery {
	if t == nil {
		return nil
	}
	return posting{t}
}

func (p posting) Letters() bool { return len(p.t.targets) > 0 }

func (p posting) Status() []outbox.Status { return p.t.box.Status() }

func (p posting) Of(alarmID string) []outbox.Item { return p.t.box.Of(alarmID) }

func (p posting) Test(by string) { p.t.put([]outbox.Letter{letter.OfTest(p.t.origin(), by)}) }
