package daemon

import (
	"context"
	"crypto/tls"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"sync/atomic"
	"time"

	"ductward/internal/clock"
)

// Pulse is told from time to time that the daemon lives, so that whoever started it can end one that hangs.
type Pulse struct {
	Every time.Duration // 0: nobody asks
	Ready func()        // called once, when the store is open and the dashboard is listened on; sensors are not waited for
	Alive func()        // called each time that sampling, fold and dashboard have moved on
}

// pulse looks whether the parts move on.
type pulse struct {
	Pulse
	fold  *fold
	beats *atomic.Uint64 // of sampling
	url   string         // of the dashboard; "" for none
	clock clock.Clock
	log   *slog.Logger
}

// run looks until the context is done.
func (p *pulse) run(ctx context.Context) error {
	p.Ready()
	// It asks its own listener, whose certificate is made out for other names than the address that it asks at.
	client := &http.Client{Timeout: p.Every, Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}}
	defer client.CloseIdleConnections()
	before := p.beats.Load()
	for {
		if p.clock.Wait(ctx, p.Every) != nil {
			return nil
		}
		beats := p.beats.Load()
		if err := p.look(ctx, client, beats != before); err != nil {
			if ctx.Err() == nil {
				p.log.Error("the watch does not move on", "part", err)
			}
			continue
		}
		before = beats
		p.Alive()
	}
}

// look returns which part stands still.
func (p *pulse) look(ctx context.Context, client *http.Client, sampled bool) error {
	if !sampled {
		return fmt.Errorf("sampling has made no beat in %v", p.Every)
	}
	if !p.fold.waitTaken(p.Every) {
		return fmt.Errorf("what is read has not been stored in %v", p.Every)
	}
	if p.url == "" {
		return nil
	}
	ask, err := http.NewRequestWithContext(ctx, http.MethodHead, p.url, nil)
	if err != nil {
		return err
	}
	answer, err := client.Do(ask)
	if err != nil {
		return fmt.Errorf("the dashboard does not answer: %w", err)
	}
	return answer.Body.Close()
}

// ownURL is the address at which a program reaches its own listener: one that listens everywhere does so here too.
func ownURL(l net.Listener, conf *tls.Config) string {
	if l == nil {
		return ""
	}
	host, port, err := net.SplitHostPort(l.Addr().String())
	if err != nil {
		return ""
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsUnspecified() {
		host = "127.0.0.1"
		if ip.To4() == nil {
			host = "::1"
		}
	}
	return scheme(conf) + "://" + net.JoinHostPort(host, port) + "/"
}
