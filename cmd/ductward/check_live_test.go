package main

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"ductward/hardware/rig"
)

func TestCheckLiveOfASoundShop(t *testing.T) {
	for name, path := range map[string]string{"the demonstration's": demoFile(t), "the README's": elmLane} {
		t.Run(name, func(t *testing.T) {
			got := call(t, "check", path, "--live", "--simulated")
			assert.Equal(t, exitFine, got.code, got.out+got.errOut)
			assert.Contains(t, got.out, "the fan of main is running")
			assert.Regexp(t, `(?m)^trunk static +-\d+ +-\d+ Pa$`, got.out)
			assert.Contains(t, got.out, "times the clean filter's resistance")
			assert.Contains(t, got.out, "the wiring agrees with the file")
		})
	}
}

// TestCheckLiveTellsWhatItCannotSee: without the fan's switch nothing is held against the model until somebody says that
// it runs.
func TestCheckLiveTellsWhatItCannotSee(t *testing.T) {
	text := strings.Replace(string(rig.DemoShop()), "    fan_running: ", "    # fan_running: ", 1)
	path := write(t, "shop.yaml", text)
	got := call(t, "check", path, "--live", "--simulated")
	assert.Equal(t, exitFine, got.code, got.out+got.errOut)
	assert.Contains(t, got.out, "its fan is not known to run")
	got = call(t, "check", path, "--live", "--simulated", "--fan", "on")
	assert.Equal(t, exitFine, got.code, got.out+got.errOut)
	assert.Contains(t, got.out, "should read")
}

func TestCheckLiveOfMissingBuses(t *testing.T) {
	text := strings.ReplaceAll(string(rig.DemoShop()), "{i2c: 1,", "{i2c: 97,")
	got := call(t, "check", write(t, "shop.yaml", text), "--live", "--for", "1 s", "--data", t.TempDir())
	assert.Equal(t, exitNotFine, got.code)
	assert.Contains(t, got.out, "main/filter drop: no-bus")
	assert.Contains(t, got.out, "main/air: nothing has come in 1s")
	assert.Contains(t, got.out, "things to look at")
}

func TestCheckLiveOfABadFile(t *testing.T) {
	got := call(t, "check", write(t, "shop.yaml", "shop: Elm Lane\ncollectors: 3\n"), "--live", "--simulated")
	assert.Equal(t, exitNotFine, got.code)
	assert.NotContains(t, got.out, "wiring", "the wires are not looked at before the file is in order")
}
