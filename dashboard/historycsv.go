package dashboard

import (
	"encoding/csv"
	"fmt"
	"net/http"
	"strconv"
	"time"
)

// historyCSV sends what is seen: one row a bucket and channel, SI with the unit in its own column.
func (s *server) historyCSV(w http.ResponseWriter, r *http.Request) {
	v, err := s.readSpan(r, s.Clock.Now())
	if err != nil {
		s.fail(w, r, http.StatusBadRequest, err.Error())
		return
	}
	rows := [][]string{{"start", "end", "channel", "min", "mean", "max", "unit", "n"}}
	for _, c := range v.channels {
		buckets, err := s.Readings.Chart(c.Name, v.from, v.to, bucketsFor(c, v))
		if err != nil {
			s.trouble(w, r, fmt.Errorf("record of %q: %w", c.Name, err))
			return
		}
		for _, b := range buckets {
			rows = append(rows, bucketRow(c, b))
		}
	}
	w.Header().Set("Content-Type", "text/csv; charset=utf-8; header=present")
	w.Header().Set("Content-Disposition", `attachment; filename="ductward-history.csv"`)
	out := csv.NewWriter(w)
	_ = out.WriteAll(rows) // the client may have gone; there is nobody left to tell
}

// bucketRow is one row of the CSV; a gap has empty values.
func bucketRow(c channel, b Bucket) []string {
	row := []string{b.Start.UTC().Format(time.RFC3339Nano), b.End.UTC().Format(time.RFC3339Nano), c.Name, "", "", "", c.si, strconv.Itoa(b.N)}
	if b.N > 0 {
		for i, v := range []float64{b.Min, b.Mean, b.Max} {
			if known(v) {
				row[3+i] = strconv.FormatFloat(v, 'g', -1, 64)
			}
		}
	}
	return row
}
