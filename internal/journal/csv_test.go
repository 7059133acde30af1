package journal

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestRoundTrip(t *testing.T) {
	want := []Entry{
		{Time: time.Date(2026, 3, 1, 8, 0, 0, 1, time.UTC), Kind: FilterCleaned, Subject: "north/filter", Note: "pulse-cleaned, \"twice\"\nand shaken", By: "Ada"},
		{Time: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC), Kind: Other},
		{Time: time.Date(2026, 3, 3, 8, 0, 0, 0, time.UTC), Kind: Check, Subject: "hoses", Result: NotInOrder, Action: "new hose at the planer"},
		{Time: time.Date(2026, 3, 4, 8, 0, 0, 0, time.UTC), Kind: Alarm, By: "Ada", Alarm: "north/leak-1", Event: "acknowledged"},
	}
	var b bytes.Buffer
	require.NoError(t, WriteCSV(&b, want, nil))
	assert.True(t, strings.HasPrefix(b.String(), "time,kind,subject,note,by,number,corrects,result,action,alarm,event\r\n"))
	got, err := ReadCSV(&b, "j.csv")
	require.NoError(t, err)
	assert.Equal(t, want, got)
}

func TestColumnsInAnyOrderAndUnsorted(t *testing.T) {
	got, err := ReadCSV(strings.NewReader("\ufeffkind,by,time\nsealed,Ada,2026-03-02T08:00:00+01:00\ncheck,,2026-03-01T08:00:00+01:00\n"), "j.csv")
	require.NoError(t, err)
	require.Len(t, got, 2)
	assert.Equal(t, Check, got[0].Kind)
	assert.Equal(t, "Ada", got[1].By)
	assert.Equal(t, 7, got[1].Time.UTC().Hour())
}

func TestMistakesSayWhereAndWhatToWrite(t *testing.T) {
	for _, tc := range []struct{ name, file, want string }{
		{"empty", "", `j.csv:1: the file is empty: write the header "time,kind,subject,note,by" and a row for each entry`},
		{"header", "time,what\n", `j.csv:1: the header has no column "kind": write "time,kind,subject,note,by"`},
		{"two mistakes", "time,kind\nyesterday,check\n2026-03-01T08:00:00Z,dusted\n", `j.csv:2: time "yesterday" cannot be read: write it with its offset, as in 2026-03-01T08:00:00+01:00
j.csv:3: kind "dusted" is not known: write one of filter-cleaned, filter-replaced, bin-emptied, sealed, gate-replaced, hose-changed, duct-changed, sensor-changed, baseline, baseline-accepted, baseline-rejected, baseline-restored, check, leak-hunt, leak-hunt-ended, other`},
		{"version", "time,kind,note\n2026-03-01T08:00:00Z,baseline-restored,the old one\n", `j.csv:2: kind "baseline-restored" names no version of the baseline: begin the note as in "version 2: as agreed"`},
		{"fields", "time,kind,note\n2026-03-01T08:00:00Z,check,all well, thanks\n", `j.csv:2: the row has 4 fields and the header 3: quote a note with a comma in it`},
		{"quote", "time,kind\n2026-03-01T08:00:00Z,\"check\n", `j.csv:2: extraneous or missing " in quoted-field`},
	} {
		t.Run(tc.name, func(t *testing.T) {
			_, err := ReadCSV(strings.NewReader(tc.file), "j.csv")
			assert.EqualError(t, err, tc.want)
		})
	}
}
