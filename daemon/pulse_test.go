package daemon

import (
	"context"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestPulseOfALivingDaemon is told once that it is ready, and again and again that it lives.
func TestPulseOfALivingDaemon(t *testing.T) {
	cfg := smallConfig(t, newBoard())
	var ready, alive atomic.Int32
	cfg.Pulse = Pulse{Every: 200 * time.Millisecond, Ready: func() { ready.Add(1) }, Alive: func() { alive.Add(1) }}
	r := start(t, cfg)
	eventually(t, "signs of life", func() bool { return alive.Load() > 2 })
	require.NoError(t, r.end())
	assert.Equal(t, int32(1), ready.Load())
}

// TestPulseNamesThePartThatStandsStill.
func TestPulseNamesThePartThatStandsStill(t *testing.T) {
	answers := httptest.NewServer(http.NotFoundHandler())
	defer answers.Close()
	living := &fold{asked: make(chan chan struct{})}
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	go func() {
		for {
			select {
			case taken := <-living.asked:
				close(taken)
			case <-ctx.Done():
				return
			}
		}
	}()
	p := &pulse{Pulse: Pulse{Every: 20 * time.Millisecond}, fold: living, url: answers.URL, log: slog.New(slog.DiscardHandler)}
	client := &http.Client{Timeout: time.Second}
	defer client.CloseIdleConnections()
	assert.NoError(t, p.look(ctx, client, true), "whatever the dashboard answers, it answers")
	assert.ErrorContains(t, p.look(ctx, client, false), "sampling")
	p.fold = &fold{asked: make(chan chan struct{})}
	assert.ErrorContains(t, p.look(ctx, client, true), "stored")
	p.fold = living
	answers.Close()
	assert.ErrorContains(t, p.look(ctx, client, true), "dashboard")
	p.url = ""
	assert.NoError(t, p.look(ctx, client, true), "none was asked for")
}

// TestOwnURL: a listener on all addresses is reached on this machine.
func TestOwnURL(t *testing.T) {
	assert.Empty(t, ownURL(nil, nil))
	for address, host := range map[string]string{"127.0.0.1:0": "127.0.0.1", "0.0.0.0:0": "127.0.0.1"} {
		l, err := net.Listen("tcp4", address)
		require.NoError(t, err)
		assert.Contains(t, ownURL(l, nil), "http://"+host+":")
		require.NoError(t, l.Close())
	}
}
