package main

import (
	"bufio"
	"context"
	"io"
	"net"
	"net/http"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestRunOnThisMachine runs the watch on whatever buses the machine has: sensors that are not there stop nobody, the
// dashboard answers, and a signal ends it cleanly.
func TestRunOnThisMachine(t *testing.T) {
	ctx, interrupt := context.WithCancel(t.Context())
	defer interrupt()
	read, written := io.Pipe()
	code := make(chan int, 1)
	data := filepath.Join(t.TempDir(), "data")
	go func() {
		c := run(ctx, []string{"run", elmLane, "--data", data, "--listen", "127.0.0.1:0"}, strings.NewReader(""), io.Discard, written)
		written.Close()
		code <- c
	}()
	address := regexp.MustCompile(`address=(http://\S+)`)
	client := &http.Client{}
	seen := false
	var log strings.Builder
	for lines := bufio.NewScanner(read); lines.Scan(); {
		log.WriteString(lines.Text() + "\n")
		if m := address.FindStringSubmatch(lines.Text()); m != nil && !seen {
			seen = true
			answer, err := client.Get(m[1])
			require.NoError(t, err)
			assert.Equal(t, http.StatusOK, answer.StatusCode)
			require.NoError(t, answer.Body.Close())
			interrupt()
		}
	}
	client.CloseIdleConnections()
	assert.True(t, seen, "the log tells the dashboard's address: %s", log.String())
	assert.Equal(t, exitFine, <-code, log.String())
	assert.Equal(t, exitFine, call(t, "export", "--data", data).code, "the store has been let go")
}

func TestRunOnAPortInUse(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, taken.Close()) })
	got := call(t, "run", elmLane, "--data", t.TempDir(), "--listen", taken.Addr().String())
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.errOut, taken.Addr().String())
}

func TestRunWrongUse(t *testing.T) {
	got := call(t, "run", elmLane, "--data", t.TempDir(), "--keep-raw", "2")
	assert.Equal(t, exitUse, got.code)
	assert.Contains(t, got.errOut, "--keep-raw")
}

func TestDataFolder(t *testing.T) {
	assert.Equal(t, "/srv/ductward", dataFolder("/srv/ductward"))
	assert.Contains(t, []string{systemData, nearData}, dataFolder(""))
}

// TestRunTellsSystemd: that it is ready, that it lives and that it stops, over the socket that systemd names.
func TestRunTellsSystemd(t *testing.T) {
	path := filepath.Join(t.TempDir(), "notify")
	socket, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: path, Net: "unixgram"})
	require.NoError(t, err)
	defer socket.Close()
	t.Setenv("NOTIFY_SOCKET", path)
	t.Setenv("WATCHDOG_USEC", "600000")
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	code := make(chan result, 1)
	go func() { code <- callIn(ctx, "run", elmLane, "--data", t.TempDir(), "--listen", "127.0.0.1:0") }()
	var told []string
	for b := make([]byte, 64); len(told) < 2; {
		n, err := socket.Read(b)
		require.NoError(t, err)
		told = append(told, string(b[:n]))
	}
	stop()
	got := <-code
	assert.Equal(t, exitFine, got.code, got.errOut)
	b := make([]byte, 64)
	for told[len(told)-1] != "STOPPING=1" {
		n, err := socket.Read(b)
		require.NoError(t, err)
		told = append(told, string(b[:n]))
	}
	assert.Equal(t, []string{"READY=1", "WATCHDOG=1"}, told[:2])
}
