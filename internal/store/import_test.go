package store

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/reading"
)

func sortReadings(rs []reading.Reading) { slices.SortFunc(rs, reading.Compare) }

func si(_, _ string, v float64) (float64, error) { return v, nil }

func export(t *testing.T, s *Store) string {
	var b bytes.Buffer
	require.NoError(t, reading.WriteCSV(&b, s.Readings(context.Background(), ReadQuery{}), func(string) string { return "Pa" }))
	return b.String()
}

// What one store exports, another imports, and exports again, to the byte.
func TestExportAndImportLoseNothing(t *testing.T) {
	s := goldenStore(t, t.TempDir())
	unplaced := newBoot(t, s, time.Time{})
	require.NoError(t, s.Append(seconds(unplaced, 0, 100)))
	old := newBoot(t, s, noon.AddDate(-50, 0, 0))
	require.NoError(t, s.Append(goldenReadings(old)))
	first := export(t, s)

	other := open(t, t.TempDir(), Options{})
	res, err := other.Import(t.Context(), reading.ReadCSV(strings.NewReader(first), "export.csv", si))
	require.NoError(t, err)
	n := strings.Count(first, "\n") - 1
	assert.Equal(t, ImportResult{Readings: n}, res)
	assert.Equal(t, first, export(t, other))
	requireSound(t, other)

	res, err = other.Import(t.Context(), reading.ReadCSV(strings.NewReader(first), "export.csv", si))
	require.NoError(t, err)
	assert.Equal(t, ImportResult{Doubles: n}, res, "importing it again adds nothing")
	assert.Equal(t, first, export(t, other))
	requireSound(t, other)
}

func TestImportKeepsApartWhatIsNotOneBoot(t *testing.T) {
	s := open(t, t.TempDir(), Options{})
	boot := newBoot(t, s, noon)
	require.NoError(t, s.Append(seconds(boot, 0, 10)))
	file := "time,channel,value,unit,boot,mono_s,seq\n2020-01-01T00:00:05Z,north/filter,5,Pa,1,5,0\n"
	res, err := s.Import(t.Context(), reading.ReadCSV(strings.NewReader(file), "r.csv", si))
	require.NoError(t, err)
	assert.Equal(t, 1, res.Readings)
	rs := all(t, s, ReadQuery{})
	require.Len(t, rs, 21)
	assert.EqualValues(t, 2, rs[20].Boot, "the other board's boot 1 is boot 2 here")
	assert.Equal(t, "2020-01-01T00:00:05Z", rs[20].Time.Format(time.RFC3339))
}

func TestImportOfAFileWithoutBoots(t *testing.T) {
	s := open(t, t.TempDir(), Options{})
	file := "time,channel,value,unit\n"
	for i := range 100 {
		// Newest first: rows need not be sorted.
		file += fmt.Sprintf("%s,north/filter,%d,Pa\n", noon.Add(-time.Duration(i)*time.Minute).Format(time.RFC3339), i)
	}
	for range 2 {
		_, err := s.Import(t.Context(), reading.ReadCSV(strings.NewReader(file), "r.csv", si))
		require.NoError(t, err)
		rs := all(t, s, ReadQuery{From: noon.Add(-2 * time.Hour)})
		require.Len(t, rs, 100)
		assert.Equal(t, 99.0, rs[0].Value)
		assert.True(t, noon.Equal(rs[99].Time))
	}
	requireSound(t, s)
	bad := file + "nonsense\n"
	_, err := s.Import(t.Context(), reading.ReadCSV(strings.NewReader(bad), "r.csv", si))
	assert.ErrorContains(t, err, "import readings: r.csv:102: the row has 1 fields and the header 4")
}
