package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/hardware/rig"
	"ductward/internal/store"
)

// demoFile writes the demonstration's shop file.
func demoFile(t *testing.T) string {
	t.Helper()
	return write(t, "shop.yaml", string(rig.DemoShop()))
}

func TestSensorsOnce(t *testing.T) {
	got := call(t, "sensors", demoFile(t), "--simulated", "--once")
	assert.Equal(t, exitFine, got.code, got.errOut)
	assert.Contains(t, got.out, "collector main: the fan is running\n")
	lines := strings.Split(strings.TrimSpace(got.out), "\n")
	assert.Equal(t, []string{"channel", "value", "unit", "noise", "zero", "raw", "health"}, strings.Fields(lines[2]))
	for _, l := range lines[3:] {
		assert.True(t, strings.HasSuffix(l, "good"), l)
	}
	assert.Regexp(t, `(?m)^main/trunk static +-\d+\.\d +Pa +\d+\.\d\d +– +\d+ +good$`, got.out)
	assert.Regexp(t, `(?m)^gate/planer gate +shut +high +good$`, got.out)
}

func TestSensorsOnceAsJSON(t *testing.T) {
	got := call(t, "sensors", demoFile(t), "--simulated", "--once", "--json", "--for", "6 s")
	require.Equal(t, exitFine, got.code, got.errOut)
	var out struct {
		Collectors []struct{ Name, Fan string }
		Sensors    []map[string]any
	}
	require.NoError(t, json.Unmarshal([]byte(got.out), &out))
	assert.Equal(t, "running", out.Collectors[0].Fan)
	require.Len(t, out.Sensors, 14, "every channel of the shop")
	first := out.Sensors[0]
	assert.Equal(t, "main/filter drop", first["channel"])
	assert.Equal(t, `i2c bus "1" address 0x28`, first["where"])
	assert.Equal(t, "Pa", first["unit"])
	assert.Equal(t, float64(13), first["samples"])
	assert.Nil(t, first["zero"], "the fan runs: unknown is null, never 0")
	assert.Equal(t, "good", first["state"])
}

// TestSensorsOfABoardWithoutBuses: each source is a fault that says what to do, and the exit code says so too.
func TestSensorsOfABoardWithoutBuses(t *testing.T) {
	if _, err := os.Stat("/dev/i2c-97"); err == nil {
		t.Fatal("this machine has the bus that the test takes for missing")
	}
	text := strings.ReplaceAll(string(rig.DemoShop()), "{i2c: 1,", "{i2c: 97,")
	got := call(t, "sensors", write(t, "shop.yaml", text), "--once", "--for", "1 s", "--data", t.TempDir())
	assert.Equal(t, exitNotFine, got.code)
	assert.Contains(t, got.out, "main/trunk static: no-bus, i2c bus \"97\"")
	assert.Contains(t, got.out, "waiting", "what has not come yet is not said to be wrong")
}

// TestSensorsLiveInAPipe reads until it is stopped, here as soon as the first object has come.
func TestSensorsLiveInAPipe(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	var errOut bytes.Buffer
	out := &stopping{stop: stop}
	code := run(ctx, []string{"sensors", demoFile(t), "--simulated", "--json"}, strings.NewReader(""), out, &errOut)
	assert.Equal(t, exitFine, code, errOut.String())
	first, _, ended := strings.Cut(out.String(), "\n")
	assert.True(t, ended, "one object a line")
	assert.True(t, json.Valid([]byte(first)))
}

// stopping calls stop at the first write.
type stopping struct {
	bytes.Buffer
	stop func()
}

func (s *stopping) Write(b []byte) (int, error) {
	s.stop()
	return s.Buffer.Write(b)
}

// TestAPageTakesItsOwnPlaceOnATerminal, and is appended elsewhere.
func TestAPageTakesItsOwnPlaceOnATerminal(t *testing.T) {
	two := func(w io.Writer) error { _, err := io.WriteString(w, "one\ntwo\n"); return err }
	var b bytes.Buffer
	p := &page{w: &b, terminal: true}
	require.NoError(t, p.show(two))
	require.NoError(t, p.show(two))
	assert.Equal(t, "one\ntwo\n\x1b[2A\x1b[Jone\ntwo\n", b.String())
	b.Reset()
	p = &page{w: &b}
	require.NoError(t, p.show(two))
	require.NoError(t, p.show(two))
	assert.Equal(t, "one\ntwo\n\none\ntwo\n\n", b.String())
}

func TestSensorsBlow(t *testing.T) {
	got := call(t, "sensors", demoFile(t), "--simulated", "--blow", "trunk static")
	assert.Equal(t, exitFine, got.code, got.out+got.errOut)
	assert.Contains(t, got.out, "Never blow into a sensor")
	assert.Contains(t, got.out, "lock it out")
	assert.Contains(t, got.out, "3 of 3.")
	assert.Contains(t, got.out, "good: The sign is right: -")
	assert.NotContains(t, strings.ToLower(got.out), "shut")
}

func TestSensorsScan(t *testing.T) {
	got := call(t, "sensors", demoFile(t), "--simulated", "--scan")
	assert.Equal(t, exitFine, got.code, got.errOut)
	assert.Contains(t, got.out, "i2c bus 1: 3 parts answer")
	assert.Contains(t, got.out, "0x25  Sensirion SDP8xx, 500 Pa; in the file: main/trunk velocity")
	assert.Contains(t, got.out, "from: {i2c: 1, chip: sdp8xx, address: 0x25, span: 500 Pa}")
}

// TestSensorsScanSwitchesTheSupplyOn: the parts on a bus whose supply is behind a pin answer nobody before.
func TestSensorsScanSwitchesTheSupplyOn(t *testing.T) {
	file := write(t, "shop.yaml", string(rig.DemoShop())+"buses: [{bus: 1, power: GPIO2, active: low}]\n")
	got := call(t, "sensors", file, "--simulated", "--scan")
	assert.Equal(t, exitFine, got.code, got.out+got.errOut)
	assert.Contains(t, got.out, "i2c bus 1: 3 parts answer")
}

// TestSensorsLeaveTheBusesToARunningWatch: two readers of one bus disturb each other.
func TestSensorsLeaveTheBusesToARunningWatch(t *testing.T) {
	dir := t.TempDir()
	st, err := store.Open(dir, store.Options{})
	require.NoError(t, err)
	got := call(t, "sensors", demoFile(t), "--once", "--data", dir)
	require.NoError(t, st.Close())
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.errOut, "stop it first")
}

func TestSensorsWrongUse(t *testing.T) {
	file := demoFile(t)
	rows := []struct {
		args []string
		says string
	}{
		{[]string{"sensors"}, "name the shop file"},
		{[]string{"sensors", "--scan", "--simulated"}, "name the shop file"},
		{[]string{"sensors", file, "--fan", "maybe"}, `--fan "maybe"`},
		{[]string{"sensors", file, "--once", "--for", "1"}, `--for "1"`},
		{[]string{"sensors", file, "--once", "--for", "1 h"}, "from 1 s to 10 min"},
		{[]string{"sensors", file, "--simulated", "--blow", "nothing"}, `there are "main/filter drop"`},
		{[]string{"sensors", file, "--scan", "--json"}, "none of the others can be"},
	}
	for _, r := range rows {
		got := call(t, r.args...)
		assert.Equal(t, exitUse, got.code, "%v: %s", r.args, got.errOut)
		assert.Contains(t, got.errOut, r.says)
	}
	got := call(t, "sensors", elmLane, "--simulated", "--blow", "panel saw")
	assert.Equal(t, exitUse, got.code)
	got = call(t, "sensors", write(t, "s.yaml", "shop: A\ncollectors:\n  - collector: main\n"), "--simulated", "--once")
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.errOut, "has no drawing")
}

// TestEnterWithoutAKeyboard: a guide that nobody can answer ends and says why.
func TestEnterWithoutAKeyboard(t *testing.T) {
	got := call(t, "sensors", demoFile(t), "--blow", "trunk static", "--data", t.TempDir())
	assert.Equal(t, exitUse, got.code)
	assert.Contains(t, got.errOut, "there is no keyboard")
}
