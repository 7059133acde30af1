package dashboard

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"

	"ductward/internal/journal"
	"ductward/internal/watch"
)

// huntInput is what begins or ends a leak hunt.
type huntInput struct {
	Collector string `json:"collector"`
	Do        string `json:"do"` // "begin" or "end"
	By        string `json:"by"`
	Idle      bool   `json:"idle"` // every machine of the collector stands still
}

// errNoHunt is wrapped by what is asked for at the wrong time.
var errNoHunt = errors.New("not now")

// setHunt begins or ends a leak hunt: a line in the logbook, which the watch reads.
func (s *server) setHunt(w http.ResponseWriter, r *http.Request) {
	in, err := readHunt(r)
	var e journal.Entry
	if err == nil {
		e, err = s.huntEntry(s.newRequest(r), &in)
	}
	switch {
	case errors.Is(err, errNoHunt) && isForm(r):
		http.Redirect(w, r, "/hunt?problem="+url.QueryEscape(capital(err.Error())+"."), http.StatusSeeOther)
		return
	case errors.Is(err, errNoHunt):
		s.fail(w, r, http.StatusConflict, err.Error())
		return
	case err != nil:
		s.fail(w, r, http.StatusBadRequest, err.Error())
		return
	}
	number, err := s.Journal.AddJournal(e)
	if err != nil {
		s.trouble(w, r, fmt.Errorf("leak hunt: %w", err))
		return
	}
	if isForm(r) {
		remember(w, in.By)
		http.Redirect(w, r, "/hunt", http.StatusSeeOther)
		return
	}
	writeJSON(w, http.StatusCreated, newEntryDTO(e, int(number)))
}

// readHunt takes the request from a form or from JSON.
func readHunt(r *http.Request) (huntInput, error) {
	var in huntInput
	if !isForm(r) {
		return in, readJSON(r, &in)
	}
	if err := r.ParseForm(); err != nil {
		return in, fmt.Errorf("the form could not be read: send it again, in at most %d bytes", maxBody)
	}
	f := r.PostForm
	return huntInput{Collector: f.Get("collector"), Do: f.Get("do"), By: f.Get("by"), Idle: f.Get("idle") != ""}, nil
}

// huntEntry makes the line, or says why a hunt cannot begin.
func (s *server) huntEntry(rq *request, in *huntInput) (journal.Entry, error) {
	in.By = strings.TrimSpace(in.By)
	if err := checkName(in.By); err != nil {
		return journal.Entry{}, err
	}
	c := collectorOf(rq, in.Collector)
	if c == nil {
		return journal.Entry{}, fmt.Errorf("collector %q is not known: /api/v1/state lists those that are", in.Collector)
	}
	e := journal.Entry{Time: rq.now, Subject: c.Name, By: in.By}
	switch in.Do {
	case "end":
		e.Kind = journal.LeakHuntEnded
		return e, nil
	case "begin":
		e.Kind, e.Note = journal.LeakHunt, "Every machine stands still."
		return e, s.mayHunt(rq, c, in.Idle)
	}
	return e, fmt.Errorf(`do %q is neither "begin" nor "end"`, in.Do)
}

// mayHunt says why a hunt cannot begin.
func (s *server) mayHunt(rq *request, c *watch.Collector, idle bool) error {
	st := s.stateOf(rq, c, s.Readings.Latest())
	switch {
	case !idle:
		return fmt.Errorf("%w: no test while a machine cuts; begin when every machine stands still", errNoHunt)
	case st.Stale:
		return fmt.Errorf("%w: the readings are old, so that nothing could be tested", errNoHunt)
	case c.NextTest == nil || len(c.NextTest.Tests) == 0:
		return fmt.Errorf("%w: no test would tell more of where it is", errNoHunt)
	}
	return nil
}

// collectorOf finds a collector in the snapshot.
func collectorOf(rq *request, name string) *watch.Collector {
	if rq.snap == nil {
		return nil
	}
	for i := range rq.snap.Collectors {
		if rq.snap.Collectors[i].Name == name {
			return &rq.snap.Collectors[i]
		}
	}
	return nil
}
