package journal

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"
)

// FuzzReadCSV: what is taken can be written, and reads back as it was.
func FuzzReadCSV(f *testing.F) {
	f.Add([]byte("time,kind,subject,note,by\n2026-03-01T08:00:00Z,check,,\"in, order\",Ada\n"))
	f.Add([]byte("\ufeffkind,time,number,corrects,result\r\ncheck,2026-03-01T08:00:00.5+01:00,2,1,not ok\r\nother,2026-03-01T08:00:00Z,1,,\r\n"))
	f.Add([]byte("time,kind,alarm,event\n2026-03-01T08:00:00Z,alarm,a,raised\n0001-01-01T00:00:00Z,gap,,\n"))
	f.Add([]byte("time,kind\n0000-01-01T00:00:00+01:00,check\n")) // by UTC before the year 0, which RFC 3339 cannot say
	f.Fuzz(func(t *testing.T, b []byte) {
		entries, err := ReadCSV(bytes.NewReader(b), "f.csv")
		if err != nil {
			return
		}
		var out bytes.Buffer
		require.NoError(t, WriteCSV(&out, entries, nil))
		again, err := ReadCSV(bytes.NewReader(out.Bytes()), "again.csv")
		require.NoError(t, err, "%q became %q", b, out.String())
		require.Len(t, again, len(entries))
		for i := range entries {
			require.True(t, entries[i].Time.Equal(again[i].Time))
			again[i].Time, again[i].Corrects = entries[i].Time, entries[i].Corrects // a number alone means nothing
		}
		require.Equal(t, entries, again)
	})
}
