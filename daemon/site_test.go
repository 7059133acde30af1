package daemon

import (
	"bufio"
	"crypto/tls"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestTheDashboardOverTLS: pages, streams and the daemon's own look at its dashboard, over the version of HTTP that both ends
// choose there.
func TestTheDashboardOverTLS(t *testing.T) {
	lent := httptest.NewTLSServer(http.NotFoundHandler()) // its certificate
	defer lent.Close()
	cfg := smallConfig(t, newBoard())
	cfg.TLS = &tls.Config{Certificates: lent.TLS.Certificates}
	var alive atomic.Int32
	cfg.Pulse = Pulse{Every: 200 * time.Millisecond, Ready: func() {}, Alive: func() { alive.Add(1) }}
	r := start(t, cfg)
	client := lent.Client()
	defer client.CloseIdleConnections()
	answer, err := client.Get("https://" + r.address + "/live")
	require.NoError(t, err)
	line, err := bufio.NewReader(answer.Body).ReadString('\n')
	require.NoError(t, err)
	assert.Equal(t, "event: now\n", line)
	require.NoError(t, answer.Body.Close())
	eventually(t, "signs of life", func() bool { return alive.Load() > 0 })

	answer, err = http.Get("http://" + r.address + "/")
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	assert.Equal(t, http.StatusBadRequest, answer.StatusCode, "nothing is told over a plain line")
	http.DefaultClient.CloseIdleConnections()
	require.NoError(t, r.end())
}

// TestTheMachinesOwnNameIsAnsweredWhereOthersReachIt: the owner's names always.
func TestTheMachinesOwnNameIsAnsweredWhereOthersReachIt(t *testing.T) {
	own, err := os.Hostname()
	require.NoError(t, err)
	given := []string{"shop.example.org"}
	assert.Equal(t, []string{"shop.example.org", own}, names(given, &net.TCPAddr{IP: net.IPv4zero}))
	assert.Equal(t, []string{"shop.example.org", own}, names(given, &net.TCPAddr{IP: net.IPv4(192, 168, 1, 20)}))
	assert.Equal(t, given, names(given, &net.TCPAddr{IP: net.IPv6loopback}))
}
