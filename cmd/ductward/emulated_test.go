package main

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// arm64Binary names the variable with the path of this program as built for linux/arm64.
const arm64Binary = "DUCTWARD_ARM64"

// emulator runs it on this machine: of Debian's qemu-user-static.
const emulator = "qemu-aarch64-static"

// TestArm64SolvesTheSame holds the answers of the arm64 build, run under emulation, against those of this one. They differ
// by rounding, since arm64 fuses a product with a sum: every number agrees to a billionth of itself, or of a billionth of an
// SI unit where it is nothing but rounding.
func TestArm64SolvesTheSame(t *testing.T) {
	binary := os.Getenv(arm64Binary)
	if binary == "" {
		t.Skipf("no arm64 build: build with GOARCH=arm64 and name it in %s", arm64Binary)
	}
	for _, args := range [][]string{
		{"airflow", elmLane, "--open", "panel saw", "--json"},
		{"airflow", "../../hardware/rig/shop.yaml", "--open", "thicknesser,surface planer", "--filter-resistance", "2", "--leak", "run:trunk 4=0.02m3/s@1500Pa", "--json"},
	} {
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		defer cancel()
		theirs, err := exec.CommandContext(ctx, emulator, append([]string{binary}, args...)...).Output()
		require.NoError(t, err, "%v", args)
		ours := call(t, args...)
		require.Zero(t, ours.code, ours.errOut)
		var got, want any
		require.NoError(t, json.Unmarshal(theirs, &got))
		require.NoError(t, json.Unmarshal([]byte(ours.out), &want))
		require.Positive(t, alike(t, args[1], want, got), "numbers compared")
	}
}

// alike holds two JSON values against each other and returns how many numbers they hold.
func alike(t *testing.T, path string, want, got any) (numbers int) {
	t.Helper()
	switch w := want.(type) {
	case map[string]any:
		g, ok := got.(map[string]any)
		require.True(t, ok && len(g) == len(w), path)
		for k := range w {
			numbers += alike(t, path+"."+k, w[k], g[k])
		}
	case []any:
		g, ok := got.([]any)
		require.True(t, ok && len(g) == len(w), path)
		for i := range w {
			numbers += alike(t, path, w[i], g[i])
		}
	case float64:
		g, ok := got.(float64)
		require.True(t, ok, path)
		assert.InDelta(t, w, g, 1e-9*math.Max(1, math.Abs(w)), path)
		return 1
	default:
		assert.Equal(t, want, got, path)
	}
	return numbers
}
