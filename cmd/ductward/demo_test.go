package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"ductward/hardware/rig"
	"ductward/internal/store"
)

// watchDemo runs a demo until it prints a line that matches, gives what matched to look, and stops the demo as Ctrl-C
// does.
func watchDemo(t *testing.T, line *regexp.Regexp, look func(matched string), args ...string) result {
	t.Helper()
	ctx, interrupt := context.WithCancel(t.Context())
	defer interrupt()
	read, written := io.Pipe()
	var errOut bytes.Buffer
	code := make(chan int, 1)
	go func() {
		c := run(ctx, append([]string{"demo"}, args...), strings.NewReader(""), written, &errOut)
		written.Close()
		code <- c
	}()
	var out strings.Builder
	for lines := bufio.NewScanner(read); lines.Scan(); {
		out.WriteString(lines.Text() + "\n")
		if m := line.FindStringSubmatch(lines.Text()); m != nil {
			look(m[1])
			interrupt()
		}
	}
	return result{<-code, out.String(), errOut.String()}
}

var addressLine = regexp.MustCompile(`The dashboard: (http://\S+)`)

// TestDemo runs the main job from end to end, short: history through drivers, daemon and store, the dashboard live, a
// clean stop, and then what the store holds, out as CSV, through a replay, and into another store.
func TestDemo(t *testing.T) {
	ignoreOthers := goleak.IgnoreCurrent()
	data := filepath.Join(t.TempDir(), "data")
	client := &http.Client{}
	got := watchDemo(t, addressLine, func(address string) {
		// The first is not there before something is known: the first look shows the watch at work.
		for _, page := range []string{"api/v1/state", "", "findings", "filter", "leaks", "history", "logbook", "sensors"} {
			answer, err := client.Get(address + page)
			require.NoError(t, err)
			body, err := io.ReadAll(answer.Body)
			require.NoError(t, err)
			require.NoError(t, answer.Body.Close())
			assert.Equal(t, http.StatusOK, answer.StatusCode, "page %q", page)
			assert.Contains(t, string(body), "Quernstone Sash and Stair", "page %q", page)
		}
	}, "--history", "8 days", "--data", data)
	client.CloseIdleConnections()
	require.Equal(t, exitFine, got.code, got.errOut)
	assert.Contains(t, got.out, "8 days of invented history")
	goleak.VerifyNone(t, ignoreOthers)

	st, err := store.Open(data, store.Options{})
	require.NoError(t, err)
	breaches, err := st.Check()
	require.NoError(t, err)
	assert.Empty(t, breaches, "the store keeps its invariants")
	found, err := st.Findings("main")
	require.NoError(t, err)
	require.NoError(t, st.Close())

	exported := call(t, "export", "--data", data)
	require.Equal(t, exitFine, exported.code, exported.errOut)
	logbook := call(t, "export", "--data", data, "--journal")
	require.Equal(t, exitFine, logbook.code, logbook.errOut)
	readingsFile, logbookFile := write(t, "readings.csv", exported.out), write(t, "logbook.csv", logbook.out)
	site := write(t, "shop.yaml", string(rig.DemoShop()))

	t.Run("a replay finds what the watch found", func(t *testing.T) {
		again := call(t, "replay", site, readingsFile, "--journal", logbookFile, "--json")
		require.Equal(t, exitFine, again.code, again.errOut)
		var r struct {
			Collectors []struct {
				Findings []struct{ ID, Kind string }
			}
		}
		require.NoError(t, json.Unmarshal([]byte(again.out), &r))
		inReplay := make(map[string]bool)
		for _, f := range r.Collectors[0].Findings {
			inReplay[f.ID] = true
		}
		for _, f := range found {
			if !strings.HasPrefix(string(f.Kind), "sensor-") { // faults of drivers leave no readings to replay
				assert.True(t, inReplay[f.ID], "the watch found %s, the replay did not", f.ID)
			}
		}
	})
	t.Run("an import loses nothing", func(t *testing.T) {
		other := filepath.Join(t.TempDir(), "other")
		in := call(t, "import", site, readingsFile, "--journal", logbookFile, "--data", other)
		require.Equal(t, exitFine, in.code, in.errOut)
		out := call(t, "export", "--data", other)
		require.Equal(t, exitFine, out.code, out.errOut)
		assert.True(t, exported.out == out.out, "what comes out is, byte for byte, what went in")
		assert.Equal(t, logbook.out, call(t, "export", "--data", other, "--journal").out)

		in = call(t, "import", site, readingsFile, "--journal", logbookFile, "--data", other)
		require.Equal(t, exitFine, in.code, in.errOut)
		assert.Contains(t, in.out, "0 readings taken in")
		assert.True(t, exported.out == call(t, "export", "--data", other).out, "the same file again adds nothing")
	})
	t.Run("a folder that holds a store is not taken for another demo", func(t *testing.T) {
		got := call(t, "demo", "--data", data)
		assert.Equal(t, exitUse, got.code)
		assert.Contains(t, got.errOut, "fresh folder")
	})
}

func TestDemoCanBeStoppedInItsHistory(t *testing.T) {
	ctx, interrupt := context.WithCancel(t.Context())
	interrupt()
	t.Setenv("TMPDIR", t.TempDir())
	got := callIn(ctx, "demo")
	assert.Equal(t, exitFine, got.code, got.errOut)
	left, err := os.ReadDir(os.TempDir())
	require.NoError(t, err)
	assert.Empty(t, left, "the temporary folder is removed")
}

func TestDemoWrongUse(t *testing.T) {
	for _, history := range []string{"3 hours", "200 weeks", "-2 weeks", "26", "a while"} {
		got := call(t, "demo", "--history", history)
		assert.Equal(t, exitUse, got.code, history)
		assert.Contains(t, got.errOut, "--history")
	}
}

func TestDemoPrintsItsShop(t *testing.T) {
	got := call(t, "demo", "--print-shop")
	require.Equal(t, exitFine, got.code)
	checked := call(t, "check", write(t, "shop.yaml", got.out))
	assert.Equal(t, exitFine, checked.code, checked.out)
}
