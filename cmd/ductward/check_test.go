package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const shops = "../../testdata/shops"

func TestCheckTellsAllMistakesAtOnce(t *testing.T) {
	path := write(t, "shop.yaml", `shop: Elm Lane
collectors:
  - collector: main
    machines:
      - {machine: panel saw, needs: 850}
      - {machine: panel saw, needs: 850 m3/h}
    sensors:
      - sensor: filter drop
        mesures: filter drop
        from: {i2c: 1, chip: abp2, address: 0x28, span: 2.5 kPa}
`)
	got := call(t, "check", path)
	assert.Equal(t, exitNotFine, got.code)
	lines := strings.Split(strings.TrimSpace(got.out), "\n")
	for _, l := range lines {
		assert.True(t, strings.HasPrefix(l, path+":"), "each line begins with the file: %s", l)
	}
	assert.Contains(t, got.out, ":5: ")
	assert.Contains(t, got.out, `"850 m3/h"`, "a bare number gets a suggestion")
	assert.Contains(t, got.out, ":6: ")
	assert.Contains(t, got.out, `"panel saw" is taken`)
	assert.Contains(t, got.out, ":9: ")
	assert.Contains(t, got.out, `"measures"`, "a slip of the pen gets a suggestion")
	assert.Contains(t, lines[len(lines)-1], "mistakes")
}

func TestCheckOfGoodShops(t *testing.T) {
	paths, err := filepath.Glob(filepath.Join(shops, "*.yaml"))
	require.NoError(t, err)
	require.NotEmpty(t, paths)
	paths = append(paths, "../../hardware/rig/shop.yaml")
	for _, p := range paths {
		t.Run(filepath.Base(p), func(t *testing.T) {
			got := call(t, "check", p)
			assert.Equal(t, exitFine, got.code, got.out)
			assert.Contains(t, got.out, "is in order")
		})
	}
}

// TestCheckOfBadShops holds that every bad shop file ends with exit code 1, or with 0 where all it has are warnings, and
// that each of its expected messages is told.
func TestCheckOfBadShops(t *testing.T) {
	paths, err := filepath.Glob(filepath.Join(shops, "bad", "*.yaml"))
	require.NoError(t, err)
	require.NotEmpty(t, paths)
	for _, p := range paths {
		t.Run(filepath.Base(p), func(t *testing.T) {
			got := call(t, "check", p)
			expected, err := os.ReadFile(strings.TrimSuffix(p, ".yaml") + ".want")
			require.NoError(t, err)
			want := exitFine
			for _, line := range strings.Split(strings.TrimSpace(string(expected)), "\n") {
				if !strings.Contains(line, ": warning: ") {
					want = exitNotFine
				}
				assert.Contains(t, got.out, strings.TrimPrefix(line, filepath.Base(p)))
			}
			assert.Equal(t, want, got.code, got.out)
		})
	}
}

func TestWarningsAreToldAndDoNotCount(t *testing.T) {
	path := write(t, "shop.yaml", "shop: Elm Lane\ncollectors:\n  - collector: main\n")
	got := call(t, "check", path)
	assert.Equal(t, exitFine, got.code)
	assert.Contains(t, got.out, "warning: ")
	assert.Contains(t, got.out, "it has no sensors")
}

// TestReadmeShops holds the README's shop files to what the program takes: whole ones, and a part of one behind the
// small shop.
func TestReadmeShops(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	var files []string
	for i, part := range strings.Split(string(text), "```") {
		body, isYAML := strings.CutPrefix(part, "yaml\n")
		if i%2 == 0 || !isYAML {
			continue
		}
		if strings.HasPrefix(body, "shop:") {
			files = append(files, body)
		} else {
			body = files[len(files)-1] + body
		}
		got := call(t, "check", write(t, "readme.yaml", body))
		assert.Equal(t, exitFine, got.code, got.out)
	}
	require.Len(t, files, 2, "whole shop files in the README")
	whole, err := os.ReadFile(elmLane)
	require.NoError(t, err)
	assert.Equal(t, string(whole), files[1], "the README's shop is the one that the other tests use")
}

// TestCheckAdvisesOnTaps: advice does not count as a mistake, and says where the tap should go.
func TestCheckAdvisesOnTaps(t *testing.T) {
	got := call(t, "check", shops+"/ring-main.yaml")
	assert.Equal(t, exitFine, got.code)
	text := strings.Join(strings.Fields(got.out), " ")
	assert.Contains(t, text, `ring-main.yaml:45: advice: sensor "riser static": its tap has no straight duct before it, behind the junction riser foot`)
	assert.Contains(t, text, "move it towards the fan")
}
