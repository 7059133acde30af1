package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/store"
)

func TestBackupVerifyAndRestore(t *testing.T) {
	dir := imported(t)
	file := filepath.Join(t.TempDir(), "copy.db")
	got := call(t, "backup", file, "--data", dir)
	require.Equal(t, exitFine, got.code, got.errOut)
	assert.Regexp(t, `copy.db holds 5 readings and 0 logbook entries \([0-9.]+ MB\); checked`, got.out)
	got = call(t, "backup", file, "--data", dir)
	assert.Equal(t, exitUse, got.code)
	assert.Contains(t, got.errOut, "copy.db is there already: --replace puts the new backup in its place")
	got = call(t, "backup", file, "--data", dir, "--replace")
	assert.Equal(t, exitFine, got.code, got.errOut)

	got = call(t, "backup", filepath.Join(dir, store.FileName), "--data", dir, "--replace")
	assert.Equal(t, exitUse, got.code)
	assert.Contains(t, got.errOut, "ductward.db is no place for a backup: it belongs to the store of that folder: choose another name or folder")

	for _, args := range [][]string{{"verify", file}, {"verify", "--data", dir}} {
		got = call(t, args...)
		assert.Equal(t, exitFine, got.code, got.errOut)
		assert.Contains(t, got.out, "holds 5 readings and 0 logbook entries")
		assert.Contains(t, got.out, "format 1: sound")
	}
	was := call(t, "export", "--data", dir)
	got = call(t, "restore", file, "--data", dir)
	assert.Equal(t, exitUse, got.code)
	assert.Contains(t, got.errOut, "--replace sets it aside, or name another folder with --data")
	got = call(t, "restore", file, "--data", dir, "--replace")
	require.Equal(t, exitFine, got.code, got.errOut)
	assert.Contains(t, got.out, "the store that was there is now "+filepath.Join(dir, store.FileName)+".replaced-")
	other := filepath.Join(t.TempDir(), "other")
	got = call(t, "restore", file, "--data", other)
	require.Equal(t, exitFine, got.code, got.errOut)
	for _, d := range []string{dir, other} {
		now := call(t, "export", "--data", d)
		assert.Equal(t, was.out, now.out)
	}
}

func TestBackupToAStream(t *testing.T) {
	dir := imported(t)
	got := call(t, "backup", "-", "--data", dir)
	require.Equal(t, exitFine, got.code, got.errOut)
	assert.Equal(t, "copied, not checked: 5 readings and 0 logbook entries\n", got.errOut)
	file := write(t, "stream.db", got.out)
	got = call(t, "verify", file)
	assert.Equal(t, exitFine, got.code, got.errOut)
}

func TestVerifyNamesWhatIsNotSoundAndRepairs(t *testing.T) {
	dir := imported(t)
	path := filepath.Join(dir, store.FileName)
	sound, err := os.ReadFile(path)
	require.NoError(t, err)
	spoilt := bytes.ReplaceAll(sound, []byte("Elm Lane"), []byte("Elm lane")) // in the stored shop file
	if bytes.Equal(spoilt, sound) {
		spoilt = bytes.ReplaceAll(sound, []byte(`"From"`), []byte(`"from"`))
	}
	require.NotEqual(t, sound, spoilt)
	require.NoError(t, os.WriteFile(path, spoilt, 0o644))
	got := call(t, "verify", "--data", dir)
	assert.Equal(t, exitNotFine, got.code)
	assert.Contains(t, got.out, `invariant 9: bucket "shops"`)
	assert.Contains(t, got.out, "1 place is not sound")

	got = call(t, "verify", "--data", dir, "--repair")
	require.Equal(t, exitFine, got.code, got.errOut)
	assert.Contains(t, got.out, "it was set aside as "+path+".damaged-")
	got = call(t, "verify", "--data", dir)
	assert.Equal(t, exitFine, got.code, got.out)

	require.NoError(t, os.WriteFile(path, []byte(strings.Repeat("coffee", 5000)), 0o644))
	got = call(t, "verify", "--data", dir)
	assert.Equal(t, exitNotFine, got.code)
	assert.Contains(t, got.out, "is damaged")
	got = call(t, "verify", "--data", dir, "--repair")
	assert.Equal(t, exitFine, got.code, got.errOut)
	assert.Contains(t, got.out, "nothing could be salvaged")
}

func TestBackupOfNothing(t *testing.T) {
	for _, args := range [][]string{{"backup", "x.db", "--data"}, {"verify", "--data"}} {
		got := call(t, append(args, t.TempDir())...)
		assert.Equal(t, exitFailed, got.code)
		assert.Contains(t, got.errOut, "no such file or directory")
	}
	got := call(t, "verify", "x.db", "--repair")
	assert.Equal(t, exitUse, got.code)
	got = call(t, "restore", filepath.Join(t.TempDir(), "x.db"), "--data", t.TempDir())
	assert.Equal(t, exitFailed, got.code)
	assert.NoFileExists(t, "x.db")
	assert.NoFileExists(t, "x.db.partial")
}

// Everything that "export" writes comes in whole, and goes out again as it was, the logbook with it.
func TestExportsComeBackAsTheyWere(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data")
	book := write(t, "book.csv", "time,kind,subject,note,by\r\n2026-03-02T07:00:00Z,filter-cleaned,main,\"shaken, then \"\"emptied\"\"\",Ada\r\n"+
		"2026-03-02T08:00:00.25Z,other,,naïve,\r\n")
	rows := "time,channel,value,unit,span_s,sd,n,quality,boot,mono_s,seq\n" +
		"2026-03-02T06:14:05.2Z,main/trunk static,-1412.5,Pa,1,2.25,10,late,3,845.2,1207\n" +
		"2026-03-02T06:14:05.2Z,main/filter drop,300.1,Pa,0,,,uncertain,3,845.2,1208\n" +
		"2026-03-02T06:14:06.2Z,gate/saw gate,,,0,,,good,3,846.2,1211\n" +
		",main/filter drop,12.125,Pa,0,,,simulated,4,1.5,1\n"
	got := call(t, "import", elmLane, write(t, "r.csv", rows), "--journal", book, "--data", dir)
	require.Equal(t, exitFine, got.code, got.errOut)
	readings, journal := call(t, "export", "--data", dir), call(t, "export", "--journal", "--data", dir)
	require.Equal(t, exitFine, readings.code, readings.errOut)
	for _, want := range []string{"late,3,845.2,1207", "uncertain,3,845.2,1208", "simulated,4,1.5,1", "-1412.5,Pa,1,2.25,10"} {
		assert.Contains(t, readings.out, want)
	}
	again := filepath.Join(t.TempDir(), "again")
	got = call(t, "import", elmLane, write(t, "r.csv", readings.out), "--journal", write(t, "j.csv", journal.out), "--data", again)
	require.Equal(t, exitFine, got.code, got.errOut)
	assert.Equal(t, readings.out, call(t, "export", "--data", again).out)
	assert.Equal(t, journal.out, call(t, "export", "--journal", "--data", again).out)
}
