package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestReplayOfPlantsOfAnotherProgram: shops drawn at random by a program that shares no line with this one live by its laws, and
// "replay" tells of them what is so: nothing of healthy ones whose gates' uses are not all noted, or not their ends, a leak on its day in
// the right place, a hole in the filter's medium, and a gate that does not shut for twelve days and then does again.
func TestReplayOfPlantsOfAnotherProgram(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	strangers, ductward := filepath.Join(folder, "strangers"), filepath.Join(folder, "ductward")
	program(t, "go", "build", "-buildvcs=false", "-o", strangers, "../../testdata/strangers")
	program(t, "go", "build", "-buildvcs=false", "-o", ductward, ".") // not for the race detector, which would take minutes
	lives := [][]string{
		{"-seed", "3", "-set", "A", "-days", "40", "-forget", "0.03", "-hood", "0.06", "-law", "1"},
		{"-seed", "4", "-set", "C", "-days", "24", "-fault", "leak,16,60,trunk?", "-law", "3"},
		{"-seed", "5", "-set", "B", "-days", "24", "-fault", "tear,16,200", "-check", "weekly", "-law", "5"},
		{"-seed", "403", "-set", "C", "-days", "30", "-linger", "0.02"},
		{"-seed", "76", "-set", "A", "-days", "24", "-fault", "leak,16,60,seat?", "-less", "drawing"},
		{"-seed", "72", "-set", "A", "-days", "24", "-fault", "leak,16,60,?", "-less", "gates"},
		{"-seed", "603", "-set", "B", "-days", "46", "-fault", "open,28,1,shaper,12"},
	}
	var judged []string
	for i, life := range lives {
		dir := filepath.Join(folder, string(rune('a'+i)))
		program(t, strangers, append(life, "-dir", dir)...)
		told := program(t, ductward, "replay", filepath.Join(dir, "shop.yaml"), filepath.Join(dir, "readings.csv"),
			"--journal", filepath.Join(dir, "journal.csv"), "--json")
		require.NoError(t, os.WriteFile(filepath.Join(dir, "told.json"), told, 0o600))
		judged = append(judged, dir)
	}
	last := len(judged) - 1
	stuck := string(program(t, strangers, "judge", judged[last])) // a gate that stays open for twelve days
	t.Log(stuck)
	assert.Contains(t, stuck, "told wrongly: 0; faults told: 1 of 1")
	assert.LessOrEqual(t, len(regexp.MustCompile("right, .*gate-left-open").FindAllString(stuck, -1)), 2, "once as forgotten, and once for all the days")
	said := string(program(t, strangers, append([]string{"judge"}, judged[:last]...)...))
	t.Log(said)
	assert.Contains(t, said, "told wrongly: 0; faults told: 4 of 4; first place right 2 of 2")
	assert.Regexp(t, `leakage off by [0-3]\.\d+ m3/h r\.m\.s\..* held (0\.[89]|1)`, said)
}

// program runs a program to its end and returns what it wrote.
func program(t *testing.T, name string, args ...string) []byte {
	t.Helper()
	var out, errOut bytes.Buffer
	cmd := exec.CommandContext(t.Context(), name, args...)
	cmd.Stdout, cmd.Stderr = &out, &errOut
	require.NoError(t, cmd.Run(), "%s %q: %s", name, args, errOut.String())
	return out.Bytes()
}
