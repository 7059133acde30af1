package daemon

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"ductward/dashboard"
	"ductward/internal/alarm"
	"ductward/internal/journal"
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

func newSite(cfg *Config, s *session, listener net.Listener) (*site, error) {
	closing := make(chan struct{})
	handler, err := dashboard.New(dashboard.Config{
		Shop:     cfg.Shop,
		Watch:    view{s.fold},
		Readings: record{s.store},
		Journal:  logbook{s.fold},
		Alarms:   bell{s.fold},
		Clock:    cfg.Clock,

		Positions: positions{s},
		Log:       cfg.Log,
		Closing:   closing,
		Version:   cfg.Version,
	})
	if err != nil {
		return nil, err
	}
	server := dashboard.NewServer(handler)
	server.ErrorLog = slog.NewLogLogger(cfg.Log.Handler(), slog.LevelDebug)
	if cfg.Listening != nil {
		cfg.Listening(listener.Addr().String())
	}
	cfg.Log.Info("dashboard", "address", "http://"+listener.Addr().String())
	return &site{server: server, listener: listener, closing: closing, grace: cfg.pace.shutdown, log: cfg.Log}, nil
}

// run serves until the context is done, then lets open requests end within the grace.
func (s *site) run(ctx context.Context) error {
	failed := make(chan error, 1)
	go func() { failed <- s.server.Serve(s.listener) }()
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

func (b bell) Acknowledge(id, by string, at time.Time) (a alarm.Alarm, err error) {
	kept := b.f.change(b.f.clk.Mono(), func() []alarm.Alarm {
		if a, err = b.f.alarms.Acknowledge(id, by, at); err != nil {
			return nil
		}
		return []alarm.Alarm{a}
	})
	if err == nil && !kept {
		err = fmt.Errorf("alarm %q is acknowledged, but could not be stored yet; it will be tried again", id)
	}
	return a, err
}
