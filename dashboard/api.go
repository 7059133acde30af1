package dashboard

import (
	"errors"
	"net/http"
	"strconv"
	"time"

	"ductward/internal/journal"
)

// apiState answers with all that is known now.
func (s *server) apiState(w http.ResponseWriter, r *http.Request) {
	rq := s.newRequest(r)
	if rq.snap == nil {
		writeJSON(w, http.StatusServiceUnavailable, map[string]string{"error": "nothing is known yet: ask again in a few seconds"})
		return
	}
	writeJSON(w, http.StatusOK, s.stateDTO(rq))
}

// apiFindings answers with every finding, active and ended, oldest first by collector.
func (s *server) apiFindings(w http.ResponseWriter, r *http.Request) {
	rq := s.newRequest(r)
	out := []findingDTO{}
	if rq.snap != nil {
		for i := range rq.snap.Collectors {
			c := &rq.snap.Collectors[i]
			for j := range c.Findings {
				out = append(out, newFindingDTO(&c.Findings[j]))
			}
		}
	}
	writeJSON(w, http.StatusOK, map[string]any{"findings": out})
}

// apiAlarms answers with every alarm that is kept.
func (s *server) apiAlarms(w http.ResponseWriter, _ *http.Request) {
	out := []alarmDTO{}
	for _, a := range s.Alarms.List() {
		out = append(out, s.newAlarmDTO(a))
	}
	writeJSON(w, http.StatusOK, map[string]any{"alarms": out})
}

// apiJournal answers with the logbook, oldest first.
func (s *server) apiJournal(w http.ResponseWriter, r *http.Request) {
	entries, err := s.Journal.Journal()
	if err != nil {
		s.trouble(w, r, err)
		return
	}
	out := []entryDTO{}
	for i, e := range entries {
		out = append(out, newEntryDTO(e, i+1))
	}
	writeJSON(w, http.StatusOK, map[string]any{"entries": out, "head": journal.Head(entries).String()})
}

// apiChart answers with the buckets of one channel: ?channel=&from=&to=&n=, times in RFC 3339.
func (s *server) apiChart(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	channel := q.Get("channel")
	unit, ok := s.channelUnit(channel)
	if !ok {
		s.fail(w, r, http.StatusNotFound, "channel "+strconv.Quote(channel)+" is not in the shop file: /api/v1/state lists those that are")
		return
	}
	from, err1 := time.Parse(time.RFC3339, q.Get("from"))
	to, err2 := time.Parse(time.RFC3339, q.Get("to"))
	if err := errors.Join(err1, err2); err != nil || !from.Before(to) {
		s.fail(w, r, http.StatusBadRequest, `from and to must be times such as "2026-03-14T08:00:00Z", and from the earlier one`)
		return
	}
	n, err := strconv.Atoi(q.Get("n"))
	if q.Get("n") == "" {
		n, err = defaultBuckets, nil
	}
	if err != nil || n < 1 || n > maxBuckets {
		s.fail(w, r, http.StatusBadRequest, "n must be a whole number from 1 to "+strconv.Itoa(maxBuckets))
		return
	}
	buckets, err := s.Readings.Chart(channel, from, to, n)
	if err != nil {
		s.trouble(w, r, err)
		return
	}
	writeJSON(w, http.StatusOK, chartDTO{Channel: channel, Unit: unit, Buckets: newBucketDTOs(buckets)})
}
