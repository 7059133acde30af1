package main

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/store"
)

// fewReadings is a file of another logger: other units, no boot, not sorted, one double.
const fewReadings = `time,channel,value,unit,span_s
2026-03-02T07:00:02+01:00,main/trunk static,-5.0,inH2O,0
2026-03-02T07:00:00+01:00,gate/saw gate,1,,
2026-03-02T07:00:01+01:00,main/filter drop,0.3,kPa,0
2026-03-02T07:00:03+01:00,main/filter drop,310,Pa,60
2026-03-02T07:00:03+01:00,main/filter drop,310,Pa,60
2026-03-02T07:00:04+01:00,gate/planer gate,,,
`

// imported makes a store of fewReadings and returns its folder.
func imported(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "data")
	got := call(t, "import", elmLane, write(t, "few.csv", fewReadings), "--data", dir)
	require.Equal(t, exitFine, got.code, got.errOut)
	return dir
}

func rowsOf(text string) [][]string {
	var rows [][]string
	for _, l := range strings.Split(strings.TrimSpace(text), "\r\n") {
		rows = append(rows, strings.Split(l, ","))
	}
	return rows
}

func TestImportAndExport(t *testing.T) {
	dir := imported(t)
	got := call(t, "export", "--data", dir)
	require.Equal(t, exitFine, got.code, got.errOut)
	rows := rowsOf(got.out)
	require.Equal(t, strings.Split("time,channel,value,unit,span_s,sd,n,quality,boot,mono_s,seq", ","), rows[0])
	for i, want := range [][]string{ // -5 inH2O is -5·249.08891 Pa (NIST SP 811, App. B.8)
		{"2026-03-02T06:00:00Z", "gate/saw gate", "1", "", "0"},
		{"2026-03-02T06:00:01Z", "main/filter drop", "300", "Pa", "0"},
		{"2026-03-02T06:00:02Z", "main/trunk static", "-1245.44455", "Pa", "0"},
		{"2026-03-02T06:00:03Z", "main/filter drop", "310", "Pa", "60"},
		{"2026-03-02T06:00:04Z", "gate/planer gate", "", "", "0"},
	} {
		require.Greater(t, len(rows), i+1)
		assert.Equal(t, want, rows[i+1][:5])
	}
}

func TestExportOfAPart(t *testing.T) {
	dir := imported(t)
	rows := []struct {
		name string
		args []string
		want int // rows
	}{
		{"one channel", []string{"--channel", "main/filter drop"}, 2},
		{"two channels", []string{"--channel", "main/filter drop", "--channel", "gate/saw gate"}, 3},
		{"from a moment", []string{"--from", "2026-03-02T06:00:02Z"}, 3},
		{"to a moment, which is left out", []string{"--to", "2026-03-02T06:00:02Z"}, 2},
		{"to a day, which begins where the shop is", []string{"--to", "2026-03-02"}, 0},
		{"from a day", []string{"--from", "2026-03-02", "--to", "2026-03-03"}, 5},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			got := call(t, append([]string{"export", "--data", dir}, r.args...)...)
			require.Equal(t, exitFine, got.code, got.errOut)
			assert.Len(t, rowsOf(got.out), r.want+1)
		})
	}
	t.Run("a channel that is not there", func(t *testing.T) {
		got := call(t, "export", "--data", dir, "--channel", "main/filtr drop")
		assert.Equal(t, exitUse, got.code)
		assert.Contains(t, got.errOut, `"main/filter drop"`, "it lists what there is")
	})
	t.Run("a day that is none", func(t *testing.T) {
		got := call(t, "export", "--data", dir, "--from", "yesterday")
		assert.Equal(t, exitUse, got.code)
		assert.Contains(t, got.errOut, "2026-03-01")
	})
}

func TestExportOfAStoreInUse(t *testing.T) {
	dir := imported(t)
	held, err := store.Open(dir, store.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, held.Close()) })
	got := call(t, "export", "--data", dir)
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.errOut, "another process")
}

func TestImportSaysWhatItMakesNoEstimateOf(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data")
	first := call(t, "import", demoSite, sixDays, "--data", dir)
	require.Equal(t, exitFine, first.code, first.errOut)
	assert.Regexp(t, `[1-9][0-9]* steady runs made of them`, first.out)

	later := write(t, "later.csv", "time,channel,value,unit,span_s\n2026-11-30T08:00:00Z,main/filter drop,400,Pa,0\n")
	second := call(t, "import", demoSite, later, "--data", dir)
	require.Equal(t, exitFine, second.code, second.errOut)
	assert.Contains(t, second.out, "no estimate is made of them")
}

func TestImportOfMistakes(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data")
	path := write(t, "wrong.csv", "time,channel,value,unit,span_s\n2026-03-02T07:00:00Z,main/filter drop,300,m/s,0\n")
	got := call(t, "import", elmLane, path, "--data", dir)
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.errOut, path+":2")

	book := write(t, "book.csv", "time,kind,subject,note,by\n2026-03-02T07:00:00Z,cleaned,,,Ada\n")
	got = call(t, "import", elmLane, write(t, "few.csv", fewReadings), "--journal", book, "--data", dir)
	assert.Equal(t, exitFailed, got.code)
	assert.Contains(t, got.errOut, `"cleaned"`)
	assert.NoDirExists(t, dir, "nothing is begun before all files have been read")
}
